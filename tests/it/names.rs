//! Plant names: the published and made-up vectors, slugs, lookup keys and random input.

use std::fmt::Write;

use pondweigh::names::parse::Hybrid;
use pondweigh::names::parse::Openness;
use pondweigh::names::parse::ParsedName;
use pondweigh::names::parse::parse;
use pondweigh::names::slug::key;
use pondweigh::names::slug::slug;
use serde_json::Value;
use serde_json::json;

const VECTORS: &str = include_str!("../reference/names.json");

#[test]
fn every_vector_is_read_as_its_source_says() {
    let file: Value = serde_json::from_str(VECTORS).expect("the vectors are JSON");
    let vectors = file["vectors"].as_array().expect("`vectors` is a list");
    assert_eq!(vectors.len(), 108, "vectors lost or added");
    let mut faults = String::new();
    for vector in vectors {
        let input = vector["input"].as_str().expect("`input` is text");
        let fields = fields(&parse(input));
        let mut check = |field: &str, expected: &Value| {
            if fields[field] != *expected {
                let found = &fields[field];
                let id = &vector["id"];
                writeln!(
                    faults,
                    "{id} {field}: found {found}, expected {expected} for {input:?}"
                )
                .expect("text can be appended");
            }
        };
        let expected = vector["expected"].as_object().expect("`expected` is a map");
        assert_eq!(expected.len(), 12, "{} has other fields", vector["id"]);
        for (field, value) in expected {
            check(field, value);
        }
        check("canonical", &vector["canonical"]);
        check("repairs", &vector["repairs"]);
        assert!(
            vector["origin"] == "own" || vector["source"] != "",
            "{} has no source",
            vector["id"]
        );
    }
    assert!(faults.is_empty(), "\n{faults}");
}

fn fields(name: &ParsedName) -> Value {
    json!({
        "genus": name.genus,
        "species": name.species,
        "infraspecific_rank": name.infraspecific_rank,
        "infraspecific_epithet": name.infraspecific_epithet,
        "cultivar": name.cultivar,
        "group": name.group,
        "grex": name.grex,
        "trade_designation": name.trade_designation,
        "hybrid": name.hybrid.map(Hybrid::as_str),
        "qualifier": name.qualifier,
        "authorship": name.authorship,
        "loose": name.loose,
        "canonical": name.canonical,
        "repairs": name.repairs,
    })
}

/// Checks some fields of a name; a field left out may be anything.
fn check(input: &str, expected: &Value) {
    let fields = fields(&parse(input));
    for (field, value) in expected.as_object().expect("expectations are a map") {
        assert_eq!(fields[field], *value, "{field} of {input:?}: {fields:#}");
    }
}

/// Names of the kinds that the vectors hold, but with other words and other neighbors.
///
/// Common practice, no source, where no article is named.
#[test]
fn rules_hold_beyond_the_vectors() {
    // An epithet that ends like no Latin word (Murdannia keisak), with and without its author.
    check(
        "Murdannia keisak",
        &json!({"species": "keisak", "loose": false}),
    );
    check(
        "Murdannia keisak (Hassk.) Hand.-Mazz.",
        &json!({"species": "keisak", "authorship": "(Hassk.) Hand.-Mazz."}),
    );
    check("Panax ginseng", &json!({"species": "ginseng"}));
    check(
        "Ludwigia repens",
        &json!({"species": "repens", "loose": false}),
    );
    check(
        "Lagarosiphon major",
        &json!({"canonical": "Lagarosiphon major"}),
    );
    check(
        "Riccia fluitans L. emend. Lorb.",
        &json!({"authorship": "L. emend. Lorb.", "loose": false}),
    );
    check(
        "Aponogeton hybrid",
        &json!({"genus": "Aponogeton", "species": null, "trade_designation": "hybrid", "loose": true}),
    );
    check(
        "Acorus calamus L.",
        &json!({"authorship": "L.", "repairs": []}),
    );
    // A small `f.` is a rank before an epithet, and the son before anything else.
    check(
        "Salix alba L. f. argentea Wimm.",
        &json!({"infraspecific_rank": "f.", "infraspecific_epithet": "argentea", "authorship": "Wimm."}),
    );
    check(
        "Rotala indica L. f. ex Hook. f. & Thomson",
        &json!({"infraspecific_epithet": null, "authorship": "L. f. ex Hook. f. & Thomson"}),
    );
    // The author of a species is not the author of a variety, unless that is the autonym.
    check(
        "Solanum melongena L. var. insanum",
        &json!({"authorship": null, "loose": false}),
    );
    check(
        "Ranunculus aquatilis van der Meijden & Smith, Jones et Hill",
        &json!({"authorship": "van der Meijden & Smith, Jones et Hill"}),
    );
    check(
        "Ranunculus aquatilis Smith, Jones & Hill, a strain",
        &json!({"authorship": "Smith, Jones & Hill", "repairs": ["trailing-text"]}),
    );
    check(
        "Nymphaea d'Urv.",
        &json!({"genus": "Nymphaea", "authorship": "d'Urv.", "loose": true}),
    );
    // A second sign or a hybrid rank below a nothospecies.
    check(
        "Mentha ×piperita nothosubsp. citrata",
        &json!({"hybrid": "nothospecies", "canonical": "Mentha ×piperita nothosubsp. citrata"}),
    );
    check(
        "xAgropogon littoralis",
        &json!({"hybrid": "nothogenus", "canonical": "×Agropogon littoralis"}),
    );
    check(
        "Syringa + correlata",
        &json!({"hybrid": "graft-chimaera", "canonical": "Syringa +correlata"}),
    );
    check("Cryptocoryne xanthocarpa", &json!({"loose": false}));
    // Formulas: H.2 wants the second genus or its initial.
    check(
        "Salix aurita × P. alba",
        &json!({"genus": null, "hybrid": "formula"}),
    );
    check(
        "Ludwigia repens ×",
        &json!({"hybrid": "formula", "canonical": null, "loose": true}),
    );
    check(
        "Cattleya × Laelia",
        &json!({"genus": null, "hybrid": "formula", "loose": true}),
    );
    // Article 60.7, from memory: marks other than the diaeresis are transcribed.
    check(
        "Anubias mülleri",
        &json!({"species": "muelleri", "repairs": ["diacritic-transcribed"]}),
    );
    check(
        "Kalanchoë coöperi",
        &json!({"canonical": "Kalanchoe cooperi"}),
    );
    // Capitals throughout.
    check(
        "ANUBIAS BARTERI VAR. NANA",
        &json!({"canonical": "Anubias barteri var. nana", "repairs": ["all-capitals"]}),
    );
    check(
        "CRYPTOCORYNE WENDTII 'MI OYA'",
        &json!({"cultivar": "Mi Oya"}),
    );
    check(
        "CRYPTOCORYNE SP.",
        &json!({"qualifier": "sp.", "species": null}),
    );
    check(
        "CRYPTOCORYNE X WILLISII",
        &json!({"canonical": "Cryptocoryne ×willisii"}),
    );
    // Selling names and plain words.
    check(
        "Cryptocoryne wendtii green",
        &json!({"trade_designation": "green", "loose": true, "authorship": null}),
    );
    check(
        "Cryptocoryne wendtii Brown",
        &json!({"trade_designation": "Brown", "loose": true, "authorship": null}),
    );
    check(
        "Nymphaea Invented Glow",
        &json!({"genus": "Nymphaea", "species": null, "trade_designation": "Invented Glow", "loose": true}),
    );
    check(
        "Syringa vulgaris INVENTED NAME",
        &json!({"trade_designation": "INVENTED NAME", "loose": true}),
    );
    check(
        "Caulerpa taxifolia Mediterranean strain",
        &json!({"authorship": null, "loose": true}),
    );
    check(
        "Lemna minor & Lemna gibba",
        &json!({"species": "minor", "loose": true}),
    );
    check(
        "Lemna minor, Lemna gibba",
        &json!({"species": "minor", "loose": true}),
    );
    // Common names.
    for common in [
        "Java Fern",
        "Amazon sword",
        "Water sprite",
        "water lettuce",
        "floating moss",
        "hornwort",
        "Java fern 'Invented'",
        "Christmas moss",
        "Parrot's feather",
        "green cabomba",
        "duckweed",
        "Crypts",
        "Tape grass (giant)",
    ] {
        check(
            common,
            &json!({"genus": null, "loose": true, "repairs": ["not-a-scientific-name"]}),
        );
    }
    check(
        "Parrot's feather (Myriophyllum aquaticum)",
        &json!({"canonical": "Myriophyllum aquaticum", "repairs": ["leading-common-name"]}),
    );
    check(
        "hornwort (Ceratophyllum)",
        &json!({"genus": "Ceratophyllum", "loose": true}),
    );
    check(
        "bacopa caroliniana (Bacopa inventa)",
        &json!({"species": "caroliniana"}),
    );
    // Senses of a name are not authors.
    check(
        "Ranunculus aquatilis agg.",
        &json!({"qualifier": "agg.", "authorship": null, "loose": true}),
    );
    check(
        "Ranunculus aquatilis L. s. str.",
        &json!({"qualifier": "s.str.", "authorship": "L.", "loose": false}),
    );
    check(
        "Ranunculus aquatilis auct. non L.",
        &json!({"qualifier": "auct. non L.", "authorship": null, "loose": true}),
    );
    // Groups and ranks written otherwise.
    check(
        "Brassica oleracea L. Capitata Group",
        &json!({"group": "Capitata", "authorship": "L."}),
    );
    check(
        "Brassica oleracea (Capitata Gp)",
        &json!({"canonical": "Brassica oleracea Capitata Group"}),
    );
    check(
        "Cryptocoryne wendtii Invented Group 'Invented Bronze'",
        &json!({"canonical": "Cryptocoryne wendtii (Invented Group) 'Invented Bronze'", "loose": false}),
    );
    check(
        "Anubias var. nana",
        &json!({"species": null, "loose": true, "repairs": ["species-missing"]}),
    );
    check(
        "Anubias barteri var.",
        &json!({"loose": true, "repairs": ["rank-without-epithet"]}),
    );
    check("Elodea ssp.", &json!({"qualifier": "spp."}));
    check(
        "Cryptocoryne wendtii'Mi Oya'",
        &json!({"canonical": "Cryptocoryne wendtii 'Mi Oya'", "loose": false}),
    );
    check(
        "B.caroliniana",
        &json!({"canonical": "B. caroliniana", "loose": true}),
    );
    check(
        "Bacopa caroliniana.",
        &json!({"canonical": "Bacopa caroliniana", "loose": false}),
    );
    check(
        "Cryptocoryne &lt;b&gt;",
        &json!({"repairs": ["markup-refused"]}),
    );
    check(
        "Rosa 'Ladies’ Invention'",
        &json!({"cultivar": "Ladies’ Invention"}),
    );
}

#[test]
fn doubt_is_told_apart() {
    for (input, doubt, without) in [
        ("Cryptocoryne wendtii", Openness::None, None),
        ("Cryptocoryne 'Invented Bronze'", Openness::None, None),
        ("Cryptocoryne", Openness::GenusAlone, None),
        ("Cryptocoryne Wydler ex Fisch.", Openness::GenusAlone, None),
        ("Cryptocoryne Green", Openness::GenusAlone, None),
        ("Cryptocoryne sp.", Openness::Sp, None),
        ("Cryptocoryne sp. Invented", Openness::Sp, None),
        ("Elodea spp", Openness::Spp, None),
        (
            "Cryptocoryne cf. wendtii",
            Openness::Cf,
            Some("Cryptocoryne wendtii"),
        ),
        (
            "cf Cryptocoryne wendtii",
            Openness::Cf,
            Some("Cryptocoryne wendtii"),
        ),
        (
            "Cryptocoryne sp. aff. wendtii",
            Openness::Aff,
            Some("Cryptocoryne wendtii"),
        ),
        (
            "Cryptocoryne cf. ×willisii",
            Openness::Cf,
            Some("Cryptocoryne ×willisii"),
        ),
        (
            "Quercus agrifolia cf. var. oxyadenia",
            Openness::Cf,
            Some("Quercus agrifolia var. oxyadenia"),
        ),
        ("Lemna minor?", Openness::Doubtful, Some("Lemna minor")),
        ("Lemna ?minor", Openness::Doubtful, Some("Lemna minor")),
        ("Lemna?", Openness::Doubtful, None),
        ("cf. Lemna", Openness::Cf, None),
        ("Lemna minor s.l.", Openness::Wide, None),
        ("Lemna minor sensu Smith", Openness::Sensu, None),
        ("Salix aurita × S. caprea", Openness::None, None),
        ("Java fern", Openness::None, None),
        ("", Openness::None, None),
    ] {
        let name = parse(input);
        assert_eq!(name.doubt(), doubt, "doubt of {input:?}");
        assert_eq!(
            name.without_doubt().as_deref(),
            without,
            "{input:?} without doubt"
        );
        if doubt != Openness::None {
            assert!(name.loose, "{input:?} is open, so it is loose");
        }
    }
}

#[test]
fn slugs_are_words_and_single_hyphens() {
    for (name, expected) in [
        (
            "Cryptocoryne wendtii 'Mi Oya'",
            "cryptocoryne-wendtii-mi-oya",
        ),
        (
            "Cryptocoryne wendtii ‘Mi Oya’",
            "cryptocoryne-wendtii-mi-oya",
        ),
        ("Mentha ×piperita", "mentha-x-piperita"),
        ("Mentha × piperita", "mentha-x-piperita"),
        ("Mentha×piperita", "mentha-x-piperita"),
        ("×Agropogon littoralis", "x-agropogon-littoralis"),
        ("Isoëtes lacustris", "isoetes-lacustris"),
        ("Isoe\u{308}tes lacustris", "isoetes-lacustris"),
        ("Anubias barteri var. nana", "anubias-barteri-var-nana"),
        ("Anubias barteri 'Nana'", "anubias-barteri-nana"),
        ("Coix lacryma-jobi", "coix-lacryma-jobi"),
        ("  --Lemna\u{a0}minor?! ", "lemna-minor"),
        ("Ludwigia 'Nº 2½'", "ludwigia-no-21-2"),
        ("Straße", "stra-e"),
        ("水草", ""),
        ("", ""),
    ] {
        assert_eq!(slug(name), expected, "slug of {name:?}");
    }
}

#[test]
fn spellings_of_one_name_share_a_key() {
    for spellings in [
        &[
            "Cryptocoryne wendtii 'Mi Oya'",
            "cryptocoryne wendtii ‘mi oya’",
            "CRYPTOCORYNE  WENDTII “MI OYA” ",
            "Cryptocoryne\u{a0}wendtii `Mi Oya´",
            "Crypto\u{200b}coryne wendtii\t'Mi Oya'\u{feff}",
        ][..],
        &[
            "Isoëtes lacustris",
            "Isoe\u{308}tes lacustris",
            "Isoetes lacustris",
        ],
        // The sign is disregarded for homonymy. Source: ICN Art. H.3.
        &[
            "Salvinia molesta",
            "Salvinia ×molesta",
            "Salvinia × molesta",
            "Salvinia×molesta",
            "Salvinia x molesta",
            "Salvinia X molesta",
        ],
        &[
            "×Agropogon littoralis",
            "x Agropogon littoralis",
            "Agropogon littoralis",
        ],
    ] {
        for spelling in spellings {
            assert_eq!(key(spelling), key(spellings[0]), "key of {spelling:?}");
        }
    }
    assert_eq!(
        key("Cryptocoryne wendtii “Mi Oya”"),
        "cryptocoryne wendtii 'mi oya'"
    );
}

#[test]
fn different_names_have_different_keys() {
    let names = [
        "Anubias barteri",
        "Anubias barteri var. nana",
        "Anubias barteri 'Nana'",
        "Anubias barteri nana",
        "Anubias cf. barteri",
        "Anubias barterix",
        "Anubias xbarteri",
        "Anubias",
        "Anubias 'Späth'",
        "Anubias 'Spåth'",
    ];
    for (index, name) in names.iter().enumerate() {
        for other in &names[..index] {
            assert_ne!(key(name), key(other), "{name:?} and {other:?}");
        }
    }
}

/// A generator of repeatable numbers: xorshift64*, with its published multiplier.
///
/// Source: Vigna 2016, doi:10.1145/2845077; constant from memory.
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, limit: usize) -> usize {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        let number = self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 33;
        usize::try_from(number).expect("31 bits fit") % limit
    }

    fn pick<'a>(&mut self, choices: &[&'a str]) -> &'a str {
        choices[self.below(choices.len())]
    }
}

const PIECES: &[&str] = &[
    "Cryptocoryne",
    "Isoëtes",
    "Lemna",
    "LEMNA",
    "lemna",
    "B.",
    "Crypt.",
    "B.caroliniana",
    "xAgropogon",
    "wendtii",
    "minor",
    "Minor",
    "xwillisii",
    "mülleri",
    "nana",
    "NANA",
    "×",
    "x",
    "X",
    "×willisii",
    "+",
    "var.",
    "var",
    "subsp.",
    "ssp.",
    "f.",
    "f",
    "forma",
    "nothovar.",
    "subvar",
    "cf.",
    "cf",
    "aff.",
    "sp.",
    "sp",
    "spp.",
    "spec.",
    "nov.",
    "?",
    "agg.",
    "s.",
    "l.",
    "s.l.",
    "sensu",
    "auct.",
    "non",
    "cv.",
    "cv",
    "Group",
    "group",
    "Gp",
    "grex",
    "(Invented Group)",
    "Invented",
    "Golden",
    "green",
    "INVENTED",
    "DC.",
    "L.",
    "L.f.",
    "Hook.",
    "de",
    "Wit",
    "van",
    "der",
    "ex",
    "et",
    "&",
    "in",
    "hort.",
    "Gray",
    "(L.)",
    "(Walter)",
    "(waterweed)",
    "(Lemna gibba L.)",
    "(= Lemna gibba)",
    "((",
    ")",
    "(",
    "()",
    "(agg.)",
    "(1753)",
    "'Mi Oya'",
    "‘Mi Oya’",
    "“Mi",
    "Oya”",
    "'mi oya'",
    "`Mi",
    "Oya´",
    "'",
    "’",
    "\"",
    "''",
    "'D’Or'",
    "'Ladies' Day'",
    "‘A 'B' C’",
    "„Ŭ“",
    "1753",
    "2019",
    "12",
    ",",
    ";",
    ".",
    "..",
    "-",
    "/",
    "<b>",
    "&amp;",
    "fern",
    "moss",
    "water",
    "strain",
    "subg.",
    "sect.",
    "Rosae",
    "\u{a0}",
    "\u{200b}",
    "\u{308}",
    "e\u{308}",
    "ß",
    "ŉ",
    "ǆ",
    "İ",
    "ſ",
    "ﬁ",
    "ª",
    "Ω",
    "ʼ",
    "水草",
    "🌿",
    "_",
    "\t",
    "\n",
    "\0",
    "®",
    "1a",
    "A1",
    "d'Urv.",
    "O'Hara",
    "lacryma-jobi",
    "-a",
    "a-",
    "oo",
    "ng",
    "xx",
];

fn random_text(numbers: &mut Numbers) -> String {
    let mut text = String::new();
    for _ in 0..numbers.below(9) {
        text.push_str(numbers.pick(PIECES));
        if numbers.below(6) > 0 {
            text.push(' ');
        }
        if numbers.below(40) == 0 {
            let code = u32::try_from(numbers.below(0x11_0000)).expect("code points fit");
            text.extend(char::from_u32(code));
        }
    }
    text
}

#[test]
fn any_text_is_read_and_its_canonical_name_is_its_own() {
    let mut numbers =
        Numbers(std::env::var("SEED").map_or(0x9E37_79B9_7F4A_7C15, |s| s.parse().unwrap()));
    for _ in 0..20_000 {
        let text = random_text(&mut numbers);
        let name = parse(&text);
        check_invariants(&text, &name);
        assert_eq!(key(&key(&text)), key(&text), "key of the key of {text:?}");
        assert_eq!(
            slug(&slug(&text)),
            slug(&text),
            "slug of the slug of {text:?}"
        );
        let slug = slug(&text);
        assert!(
            !slug.starts_with('-') && !slug.ends_with('-') && !slug.contains("--"),
            "{slug:?} of {text:?}"
        );
    }
}

fn check_invariants(text: &str, name: &ParsedName) {
    let fields = fields(name);
    let Some(canonical) = &name.canonical else {
        assert!(name.loose, "{text:?} without a canonical name is loose");
        assert!(name.without_doubt().is_none(), "{text:?}");
        return;
    };
    let again = parse(canonical);
    assert_eq!(
        again.canonical.as_ref(),
        Some(canonical),
        "{text:?}: {fields:#} {again:#?}"
    );
    assert_eq!(again.genus, name.genus, "genus of {canonical:?}");
    assert_eq!(again.species, name.species, "species of {canonical:?}");
    assert_eq!(
        again.infraspecific_rank, name.infraspecific_rank,
        "rank of {canonical:?}"
    );
    assert_eq!(
        again.infraspecific_epithet, name.infraspecific_epithet,
        "{canonical:?}"
    );
    assert_eq!(again.cultivar, name.cultivar, "cultivar of {canonical:?}");
    assert_eq!(again.group, name.group, "group of {canonical:?}");
    assert_eq!(again.grex, name.grex, "grex of {canonical:?}");
    assert_eq!(again.hybrid, name.hybrid, "hybrid of {canonical:?}");
    assert_eq!(
        again.qualifier, name.qualifier,
        "qualifier of {canonical:?}"
    );
    assert_eq!(again.doubt(), name.doubt(), "doubt of {canonical:?}");
    if let Some(undoubted) = name.without_doubt() {
        let undoubted_name = parse(&undoubted);
        assert_eq!(undoubted_name.qualifier, None, "{undoubted:?} of {text:?}");
        assert_eq!(undoubted_name.canonical, Some(undoubted), "{text:?}");
    }
}

#[test]
fn layout_changes_neither_key_nor_slug() {
    let genera = ["Cryptocoryne", "Isoëtes", "Anubias", "×Agropogon"];
    let epithets = [
        "",
        " wendtii",
        " ×willisii",
        " barteri var. nana",
        " lacryma-jobi",
    ];
    let cultivars = ["", " 'Mi Oya'", " 'Späth'", " 'D’Or'"];
    let mut numbers = Numbers(7);
    for genus in genera {
        for epithet in epithets {
            for cultivar in cultivars {
                let name = format!("{genus}{epithet}{cultivar}");
                for _ in 0..20 {
                    let variant = with_other_layout(&name, &mut numbers);
                    assert_eq!(key(&variant), key(&name), "key of {variant:?}");
                    assert_eq!(slug(&variant), slug(&name), "slug of {variant:?}");
                    let (parsed, plain) = (parse(&variant), parse(&name));
                    assert_eq!(
                        parsed.canonical.map(|text| key(&text)),
                        plain.canonical.map(|text| key(&text)),
                        "{variant:?}"
                    );
                }
            }
        }
    }
}

/// The name with other spaces and quotation marks, and its marks composed otherwise.
fn with_other_layout(name: &str, numbers: &mut Numbers) -> String {
    let spaces = [" ", "  ", "\u{a0}", " \t", "\u{2009}"];
    let is_curly = numbers.below(2) == 0;
    let is_decomposed = numbers.below(2) == 0;
    let mut variant = String::from(numbers.pick(&["", " ", "\u{feff} "]));
    let mut is_open = false;
    for character in name.chars() {
        match character {
            ' ' => variant.push_str(numbers.pick(&spaces)),
            '\'' if is_curly => {
                variant.push(if is_open { '’' } else { '‘' });
                is_open = !is_open;
            }
            'ë' if is_decomposed => variant.push_str("e\u{308}"),
            'ä' if is_decomposed => variant.push_str("a\u{308}"),
            _ => variant.push(character),
        }
    }
    variant
}

/// Brackets in brackets cost neither the stack nor quadratic time.
#[test]
fn deep_brackets_are_read() {
    for lead in ["Lemna minor (", "lead (", "Lemna (", "("] {
        let n_deep = (1 << 17) / lead.len();
        let text = format!("{}{}", lead.repeat(n_deep), ")".repeat(n_deep));
        assert!(
            parse(&text).repairs.len() < 60,
            "repairs are listed once each"
        );
    }
}

/// Units of which a long text is made to look for repeated work.
const UNITS: &[&str] = &[
    "a",
    "(",
    ")",
    "'",
    "'a’ ",
    "‘a' ",
    "(a) ",
    "(A b) ",
    "Cryptocoryne wendtii ",
    "L. ",
    "L., ",
    "L. & ",
    "A B ",
    "× ",
    "x ",
    "? ",
    "cf. ",
    "var. nana ",
    "Group ",
    "Invented Group ",
    ", ",
    "de ",
    "sensu ",
    "s. ",
    "e\u{308}",
    "\u{308}",
    "水",
    "1753 ",
    "sp. ",
    "'a' ",
    "\u{200b}",
    " ",
    "&",
    "((a) ",
    "GREEN ",
    "+ A ",
];

#[test]
fn long_texts_of_one_unit_are_read() {
    for unit in UNITS {
        for lead in [
            "",
            "Cryptocoryne ",
            "Cryptocoryne wendtii ",
            "Cryptocoryne wendtii 'A' ",
            "lead ",
        ] {
            check_long_text(lead, unit, 1 << 13);
        }
    }
}

#[test]
fn a_text_of_a_megabyte_is_read() {
    for unit in [
        "a",
        "Cryptocoryne wendtii ",
        "Hook. & ",
        "× ",
        "'a’ ",
        "(A b) ",
        "e\u{308}",
    ] {
        check_long_text("Cryptocoryne wendtii ", unit, 1 << 20);
    }
}

fn check_long_text(lead: &str, unit: &str, length: usize) {
    let text = format!("{lead}{}", unit.repeat(length / unit.len()));
    assert!(
        parse(&text).repairs.len() < 60,
        "repairs are listed once each"
    );
    assert!(slug(&text).len() <= 2 * text.len());
    assert!(key(&text).len() <= text.len());
}
