"""Pages: plain values in, one self-contained html out."""
