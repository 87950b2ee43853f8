//! Invented photos with known pH, from a spectral model of light, dye and camera.
