//! What happened, in words, numbers and pictures.
