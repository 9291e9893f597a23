"""Sun and sky as a tilted plane under glass meets them: sun path, plane irradiance, longwave."""
