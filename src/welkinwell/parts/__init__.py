"""What devices are assembled from: films of water, gaps, surfaces, beds."""
