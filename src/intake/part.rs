//! Pieces of YAML as a claim is made of them.

use crate::content::scalar::scalar;
use crate::content::yaml::{Data, Node};

/// A scalar, a list or a map, in the order in which it is written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Part {
    /// A scalar.
    Text(String),
    /// A list.
    List(Vec<Part>),
    /// A map.
    Map(Vec<(String, Part)>),
}

impl Part {
    /// A scalar.
    pub fn text(text: impl Into<String>) -> Part {
        Part::Text(text.into())
    }

    /// What a node of a file holds; a key without a value is an empty text.
    pub(crate) fn of(node: &Node) -> Part {
        match &node.data {
            Data::Null => Part::Text(String::new()),
            Data::Text(text) => Part::Text(text.clone()),
            Data::List(items) => Part::List(items.iter().map(Part::of).collect()),
            Data::Map(entries) => Part::Map(
                entries
                    .iter()
                    .map(|(key, node)| (key.text.clone(), Part::of(node)))
                    .collect(),
            ),
        }
    }

    /// On one line, as between braces and brackets.
    pub fn on_one_line(&self) -> String {
        match self {
            Part::Text(text) => scalar(text),
            Part::List(items) => {
                let items: Vec<String> = items.iter().map(Part::on_one_line).collect();
                format!("[{}]", items.join(", "))
            }
            Part::Map(entries) => {
                let entries: Vec<String> = entries
                    .iter()
                    .map(|(key, part)| format!("{}: {}", scalar(key), part.on_one_line()))
                    .collect();
                format!("{{{}}}", entries.join(", "))
            }
        }
    }
}
