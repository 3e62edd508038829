//! What may follow a species: lower ranks, cultivated-plant epithets, authors, notes.

use crate::names::parse::Depth;
use crate::names::parse::Part;
use crate::names::parse::Place;
use crate::names::parse::authors::Proof;
use crate::names::parse::authors::authors;
use crate::names::parse::read;
use crate::names::parse::reader::Reader;
use crate::names::parse::reader::epithet_letters;
use crate::names::parse::reader::marked_run;
use crate::names::parse::spelling;
use crate::names::tokens;
use crate::names::tokens::Quotes;
use crate::names::tokens::Token;
use crate::names::words;
use crate::names::words::Joint;
use crate::names::words::Marker;
use crate::names::words::Qualifier;

impl Reader {
    /// Takes whatever stands next, after the genus and the species.
    pub(super) fn read_next(&mut self) {
        if self.read_doubt() {
            return;
        }
        let is_bracket = matches!(self.tokens.get(self.at), Some(Token::Bracket(_)));
        if is_bracket && self.read_authors() {
            return;
        }
        match self.tokens.get(self.at).cloned() {
            Some(Token::Word(word)) => self.read_word(&word),
            Some(Token::Quoted(text, quotes)) => {
                self.at += 1;
                self.read_quoted(&text, quotes);
            }
            Some(Token::OpenQuote(text)) => {
                self.note_loose("unbalanced-quote");
                self.keep_as_trade_designation(tidy_epithet(&text));
                self.stop();
            }
            Some(Token::StrayQuote) => {
                self.note_loose("unbalanced-quote");
                self.at += 1;
            }
            Some(Token::Bracket(content)) => {
                self.at += 1;
                self.read_bracket(&content);
            }
            Some(Token::OpenBracket) => {
                self.note("unbalanced-parenthesis");
                self.stop();
            }
            Some(Token::CloseBracket) => {
                // The citation is broken at an unknown place, so none of it is kept.
                self.note("unbalanced-parenthesis");
                self.name.authorship = None;
                self.stop();
            }
            Some(Token::Comma) => {
                self.at += 1;
                self.read_after_comma();
            }
            Some(Token::Sign(_) | Token::Plus | Token::Query(_) | Token::Other) => {
                self.note_loose("trailing-text");
                self.stop();
            }
            None => {}
        }
    }

    fn read_word(&mut self, word: &str) {
        if self.open.is_some() {
            self.read_open_words(word);
        } else if words::rank(word).is_some() {
            self.read_infraspecific(word);
        } else if words::is_cultivar_term(word) {
            self.read_cultivar_term();
        } else if let Some((sense, n_words)) = words::sense(&self.tokens[self.at..]) {
            self.qualify(&sense, Place::End);
            self.at += n_words;
        } else if self.is_in_marked_run() {
            self.read_marked_run();
        } else if words::is_year(word) {
            self.note("trailing-year");
            self.at += 1;
        } else if self.is_stray_term(word) {
            self.note_loose("trailing-text");
            self.stop();
        } else if tokens::is_in_capitals(word) {
            let run = self.run_of(tokens::is_in_capitals);
            self.keep_as_trade_designation(run);
        } else if self.name.cultivar.is_some() {
            self.note("trailing-text");
            self.run_of(|word| !tokens::is_in_capitals(word));
        } else if self.read_authors() || self.read_rankless_epithet() {
        } else {
            self.note_loose("unquoted-trailing-words");
            let run = self.run_of(|_| true);
            self.keep_as_trade_designation(run);
        }
    }

    /// The free words after `sp.` name a plant of the trade; after `spp.`, nothing.
    fn read_open_words(&mut self, word: &str) {
        if matches!(word, "nov." | "nov" | "n.") {
            self.note("variant-qualifier");
            self.at += 1;
            return;
        }
        let run = self.run_of(|_| true);
        if self.open == Some(Qualifier::Sp) {
            self.note("trade-name-after-sp");
            self.keep_as_trade_designation(run);
        } else {
            self.note("trailing-text");
        }
    }

    /// True for a word that shows the text goes on to something else.
    fn is_stray_term(&self, word: &str) -> bool {
        words::qualifier(word).is_some()
            || words::joint(word) == Some(Joint::Connector)
            || !word.chars().any(char::is_alphanumeric)
    }

    /// The words from here on that fit, taken.
    fn run_of(&mut self, fits: impl Fn(&str) -> bool) -> String {
        let run: Vec<&str> = (self.at..)
            .map_while(|index| self.word(index))
            .take_while(|word| fits(word))
            .collect();
        let (text, n_words) = (run.join(" "), run.len());
        self.at += n_words;
        text
    }

    fn keep_as_trade_designation(&mut self, text: String) {
        if text.is_empty() {
            return;
        }
        if self.name.trade_designation.is_some() {
            self.note("trailing-text");
        } else {
            self.name.trade_designation = Some(text);
        }
    }

    /// Reads a rank and its epithet; the lowest rank is the name's.
    ///
    /// Source: ICN Shenzhen Art. 24.1 and its Ex. 1.
    fn read_infraspecific(&mut self, word: &str) {
        let Some((mut rank, depth, repair)) = words::rank(word) else {
            return;
        };
        self.at += 1;
        while self.read_doubt() {}
        if matches!(self.tokens.get(self.at), Some(Token::Sign(_))) {
            self.at += 1;
        }
        let capital = self.word(self.at).filter(|word| {
            word.starts_with(char::is_uppercase) && spelling::has_latin_ending(&word.to_lowercase())
        });
        let is_capital = capital.is_some_and(tokens::is_plain);
        let letters = match self.word(self.at) {
            Some(word) if is_capital || self.has_epithet_at(self.at) => epithet_letters(word),
            _ => None,
        };
        let Some((letters, repairs)) = letters else {
            self.note_loose("rank-without-epithet");
            return;
        };
        self.note_some(repair);
        if is_capital {
            self.note("epithet-capital");
        }
        for repair in repairs {
            self.note(repair);
        }
        self.at += 1;
        let authorship = self.name.authorship.take();
        if self.species_author.is_none() && self.rank_depth == 0 {
            self.species_author = authorship.clone();
        }
        if self.name.infraspecific_epithet.is_some() {
            self.note("classification-reduced-to-lowest-rank");
            if depth < self.rank_depth {
                self.name.authorship = authorship;
                return;
            }
        }
        self.rank_depth = depth;
        self.has_loose_words |= spelling::may_hide_sign(&letters);
        rank.shrink_to_fit();
        self.name.infraspecific_rank = Some(rank);
        self.name.infraspecific_epithet = Some(letters);
        self.found(Part::Infraspecific);
    }

    /// Takes a third small word as an epithet whose rank is missing.
    fn read_rankless_epithet(&mut self) -> bool {
        // Two small words in a row are prose, unless the second is a term.
        let next_is_small = self
            .word(self.at + 1)
            .is_some_and(|next| next.starts_with(char::is_lowercase) && !words::is_term(next));
        let is_third = self.last_part == Part::Species && self.name.authorship.is_none();
        if !is_third || next_is_small || !self.has_epithet_at(self.at) {
            return false;
        }
        let word = self.word(self.at).unwrap_or_default();
        let Some((letters, repairs)) = epithet_letters(word) else {
            return false;
        };
        for repair in repairs {
            self.note(repair);
        }
        self.note_loose("rank-missing");
        self.name.infraspecific_epithet = Some(letters);
        self.at += 1;
        self.found(Part::Infraspecific);
        true
    }

    /// Reads `cv. Mi Oya`, the form given up for quotation marks.
    fn read_cultivar_term(&mut self) {
        self.note("cv-abbreviation");
        self.at += 1;
        if matches!(self.tokens.get(self.at), Some(Token::Quoted(_, _))) {
            return;
        }
        let run = self.run_of(|_| true);
        self.set_cultivar(&run);
    }

    fn read_quoted(&mut self, text: &str, quotes: Quotes) {
        match quotes {
            Quotes::Single => {}
            Quotes::Double => self.note("double-quotes"),
            Quotes::Odd => self.note("non-standard-quotes"),
        }
        if self.open.is_some() {
            // Our choice: without a species, quotes are no sign of an established epithet.
            self.note("trade-name-after-sp");
            self.keep_as_trade_designation(tidy_epithet(text));
        } else {
            self.set_cultivar(text);
        }
    }

    fn set_cultivar(&mut self, text: &str) {
        let epithet = tidy_epithet(text);
        if !epithet.chars().any(char::is_alphanumeric) {
            self.note_loose("empty-quotes");
            return;
        }
        if self.name.cultivar.is_some() {
            self.note_loose("trailing-text");
            return;
        }
        let titled = match epithet.starts_with(char::is_lowercase) {
            true => words::title_case(&epithet),
            false => epithet.clone(),
        };
        if titled != epithet {
            self.note("cultivar-lower-case");
        }
        self.name.cultivar = Some(titled);
        self.found(Part::Cultivar);
    }

    pub(super) fn is_in_marked_run(&self) -> bool {
        self.word(self.at)
            .is_some_and(|word| word.starts_with(char::is_uppercase))
            && self
                .marked_run
                .is_some_and(|(first, end)| (first..end).contains(&self.at))
    }

    /// Reads the capitalised words before `Group` or `grex`.
    fn read_marked_run(&mut self) {
        let Some((_, end)) = self.marked_run.take() else {
            return;
        };
        let run: Vec<&str> = (self.at..end)
            .filter_map(|index| self.word(index))
            .collect();
        let epithet = run.join(" ");
        let marker = self.word(end).and_then(words::marker);
        self.at = end + 1;
        if let Some((marker, repair)) = marker {
            self.note_some(repair);
            self.set_marked(marker, epithet);
        }
    }

    fn set_marked(&mut self, marker: Marker, epithet: String) {
        let (slot, part) = match marker {
            Marker::Group => (&mut self.name.group, Part::Group),
            Marker::Grex => (&mut self.name.grex, Part::Grex),
        };
        if slot.is_some() {
            self.note_loose("trailing-text");
            return;
        }
        *slot = Some(epithet);
        self.found(part);
    }

    /// Reads a bracket that holds no author: a Group, a synonym or a common name.
    fn read_bracket(&mut self, content: &str) {
        let inner = tokens::tokens(content);
        if let Some((first, end)) = marked_run(&inner)
            && first == 0
            && end + 1 == inner.len()
            && self.open.is_none()
            && let Some(Token::Word(marker_word)) = inner.last()
            && let Some((marker, repair)) = words::marker(marker_word)
        {
            let epithet: Vec<&str> = inner[..end].iter().filter_map(Token::word).collect();
            self.note_some(repair);
            self.set_marked(marker, epithet.join(" "));
            return;
        }
        if let Some((sense, n_words)) = words::sense(&inner)
            && n_words == inner.len()
        {
            self.qualify(&sense, Place::End);
            return;
        }
        if matches!(&inner[..], [Token::Word(word)] if words::is_year(word)) {
            self.note("trailing-year");
            return;
        }
        let second_name = content.trim_start_matches(['=', '≡', ' ']);
        let second_name = ["syn. ", "syn: ", "syn "]
            .iter()
            .find_map(|lead| second_name.strip_prefix(lead))
            .unwrap_or(second_name);
        let is_name = self.depth == Depth::Outer && is_second_name(second_name);
        self.note(if is_name {
            "synonym-in-parentheses"
        } else {
            "trailing-common-name"
        });
    }

    /// After a comma comes an author, a year, or what is no part of the name.
    fn read_after_comma(&mut self) {
        let is_year = self.word(self.at).is_some_and(words::is_year);
        if is_year {
            return;
        }
        if self.at == self.tokens.len() {
            self.note("trailing-punctuation");
            return;
        }
        if self.read_authors() {
            self.note("comma-before-author");
            return;
        }
        let opens_name = self.word(self.at).is_some_and(|word| {
            word.starts_with(char::is_uppercase)
                && (words::is_abbreviated_genus(word) || tokens::is_plain(word))
        });
        let is_name = opens_name && self.has_epithet_at(self.at + 1);
        self.note("trailing-text");
        // Two names are not one plant.
        self.has_loose_words |= is_name;
        self.stop();
    }

    /// Takes an author citation, if one stands here and none has been read.
    fn read_authors(&mut self) -> bool {
        if self.name.authorship.is_some() || self.open.is_some() || self.name.cultivar.is_some() {
            return false;
        }
        let end = match self.marked_run {
            Some((first, _)) if first > self.at => first,
            _ => self.tokens.len(),
        };
        // After a bare genus a lone capitalised word is as likely an epithet.
        let proof = match self.name.species {
            Some(_) => Proof::LoneName,
            None => Proof::Mark,
        };
        let Some((end, text)) = authors(&self.tokens[..end], self.at, proof) else {
            return false;
        };
        self.name.authorship = Some(text);
        self.at = end;
        true
    }
}

/// True when a bracket or what follows a comma is a whole name of its own.
fn is_second_name(text: &str) -> bool {
    text.starts_with(|first: char| first.is_uppercase() || first == '×')
        && read(text, Depth::Inner).species.is_some()
}

/// An epithet out of its quotation marks, that stays the same between straight ones.
///
/// A straight apostrophe at the end of a word would close them too early.
fn tidy_epithet(text: &str) -> String {
    let text = text.trim_matches(|edge: char| edge == ' ' || tokens::is_quote(edge));
    let mut epithet = String::with_capacity(text.len());
    let mut characters = text.chars().peekable();
    while let Some(character) = characters.next() {
        let goes_on = characters.peek().is_some_and(|next| next.is_alphanumeric());
        epithet.push(if character == '\'' && !goes_on {
            '’'
        } else {
            character
        });
    }
    epithet
}
