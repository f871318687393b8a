"""The TIFF format: directories, layout, codecs, samples."""
