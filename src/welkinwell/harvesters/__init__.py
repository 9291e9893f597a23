"""Devices that take water from the air: each declared once, with its own flows, stocks and modes."""
