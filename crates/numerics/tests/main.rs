//! The kernels against closed forms, published problems and a general matrix library.

mod corner;
mod eigen;
mod least_squares;
mod lu;
mod random;
