//! The one integration program: a module a stage, and `tidy` for the tree itself.

mod cli;

mod cases;

mod damage;

mod independent;

mod names;

mod properties;

mod reference;

mod rules;

mod site;

mod support;

mod tidy;
