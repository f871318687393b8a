"""The TIFF format: directories, storage, codecs, samples."""
