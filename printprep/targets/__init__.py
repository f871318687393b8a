"""The test target and the screen's check picture: known values, printed or shown unedited."""
