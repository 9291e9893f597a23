"""Physics written once: a plain function of flows is read into a typed form and printed with its slopes."""
