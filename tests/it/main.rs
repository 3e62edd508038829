//! The one integration program: a module a stage, and `tidy` for the tree itself.

mod cli;

mod cases;

mod compare;

mod damage;

mod desk;

mod downloads;

mod editions;

mod forme;

mod independent;

mod intake;

mod law;

mod light;

mod manual;

mod names;

mod people;

mod practice;

mod proof;

mod properties;

mod published;

mod reference;

mod rules;

mod schema;

mod search;

mod site;

mod start;

mod support;

mod tidy;

mod weigh;
