//! Reading a design: what is said of mistakes, what sound text becomes, and that no text does harm.

mod catalogues;
mod faults;
mod hostile;
mod language_page;
mod machine;
mod mistakes_in_place;
mod sound;
mod wild;
