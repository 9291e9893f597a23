"""From litres at the gutter to water for people."""
