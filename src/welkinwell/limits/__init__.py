"""Bounds that no device passes. Nothing here simulates."""
