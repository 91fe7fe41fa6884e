//! What programs rely on: the published schema of an answer, and that answers keep to it.

use serde_json::{Value, json};

use super::cli::Desk;

/// What is wrong with a value by a schema, in the words of the schema that are used here.
fn wrong(value: &Value, schema: &Value, whole: &Value, at: &str) -> Vec<String> {
    if let Some(name) = schema["$ref"].as_str() {
        let target = whole.pointer(name.trim_start_matches('#')).expect(name);
        return wrong(value, target, whole, at);
    }
    let mut out = Vec::new();
    for (word, of) in schema.as_object().expect("a schema is an object") {
        match word.as_str() {
            "type" => {
                let is = |name: &str| match name {
                    "null" => value.is_null(),
                    "string" => value.is_string(),
                    "number" => value.is_number(),
                    "integer" => value.is_i64() || value.is_u64(),
                    "boolean" => value.is_boolean(),
                    "array" => value.is_array(),
                    "object" => value.is_object(),
                    other => panic!("no type {other}"),
                };
                let one = of.as_str().map(&is);
                let any = of.as_array().map(|all| all.iter().any(|n| is(n.as_str().unwrap())));
                if !one.or(any).unwrap() {
                    out.push(format!("{at}: {value} is no {of}"));
                }
            }
            "const" if value != of => out.push(format!("{at}: {value} is not {of}")),
            "enum" if !of.as_array().unwrap().contains(value) => {
                out.push(format!("{at}: {value} is none of {of}"));
            }
            "required" if value.is_object() => {
                let missing = of
                    .as_array()
                    .unwrap()
                    .iter()
                    .filter(|n| value.get(n.as_str().unwrap()).is_none());
                out.extend(missing.map(|n| format!("{at}: {n} is missing")));
            }
            "properties" if value.is_object() => {
                for (name, schema) in of.as_object().unwrap() {
                    if let Some(member) = value.get(name) {
                        out.extend(wrong(member, schema, whole, &format!("{at}/{name}")));
                    }
                }
            }
            "items" => {
                for (i, item) in value.as_array().into_iter().flatten().enumerate() {
                    out.extend(wrong(item, of, whole, &format!("{at}/{i}")));
                }
            }
            "anyOf" => {
                let each: Vec<Vec<String>> =
                    of.as_array().unwrap().iter().map(|s| wrong(value, s, whole, at)).collect();
                if !each.iter().any(Vec::is_empty) {
                    out.extend(each.into_iter().flatten().take(2));
                }
            }
            "const" | "enum" | "required" | "properties" | "$schema" | "title" | "description"
            | "$defs" => {}
            other => panic!("the schema says '{other}', which no test reads"),
        }
    }
    out
}

/// Words of a command line as a shell takes them; what stands in single quotes is of its word.
fn words_of(line: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    for (i, part) in line.split('\'').enumerate() {
        for (at, piece) in part.split(' ').enumerate() {
            let word = words.last_mut().unwrap();
            if i % 2 == 1 {
                word.push_str(if at == 0 { "" } else { " " });
                word.push_str(piece);
            } else if at > 0 {
                words.push(piece.to_owned());
            } else {
                word.push_str(piece);
            }
        }
    }
    words.retain(|word| !word.is_empty());
    words
}

/// Each answer of the tour is as its published schema says.
#[test]
fn answers_of_the_tour_keep_to_their_schemas() {
    let desk = Desk::demo_copy();
    let mut broken = Vec::new();
    let mut asked = 0;
    for line in super::screens::tour() {
        let words = words_of(line.trim_start_matches("pipelore "));
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        // Texts for people, without a form for programs.
        if ["language", "changes", "man", "completions"].contains(&words[0])
            || words.contains(&"--text")
        {
            continue;
        }
        if words.contains(&"--example") || words.contains(&"--csv") {
            continue;
        }
        let schema = desk.run(&[&["schema"], &words[..]].concat());
        let answer = desk.run(&[&words[..], &["--json"]].concat());
        let (Ok(schema), Ok(answer)) = (
            serde_json::from_str::<Value>(&schema.out),
            serde_json::from_str::<Value>(&answer.out),
        ) else {
            broken.push(format!("{line}: {} {}", schema.err, answer.err));
            continue;
        };
        asked += 1;
        let told = wrong(&answer, &schema, &schema, "");
        broken.extend(told.into_iter().take(3).map(|w| format!("{line}: {w}")));
        // The schema says something of each member, and what is not the answer breaks it.
        for name in answer.as_object().unwrap().keys() {
            if schema["properties"].get(name).is_none() {
                broken.push(format!("{line}: {name} is not in the schema"));
            }
        }
        let mut other = answer.clone();
        other["report"] = json!("another");
        assert!(!wrong(&other, &schema, &schema, "").is_empty(), "{line}");
    }
    assert!(broken.is_empty(), "{}", broken.join("\n"));
    assert!(asked > 40, "{asked}");
}

/// The schema of an answer has its columns, their units, and bounds; an answer that lost a column, or
/// took another unit, is not by it.
#[test]
fn a_schema_holds_an_answer_to_its_columns_and_units() {
    let desk = Desk::demo();
    let ask = ["find", "hours > 500 h", "--show", "serial,hours,wall"];
    let schema = desk.run(&[&["schema"], &ask[..]].concat()).json();
    let answer = desk.run(&[&ask[..], &["--json"]].concat()).json();
    assert_eq!(wrong(&answer, &schema, &schema, ""), Vec::<String>::new());
    let changed = |change: &dyn Fn(&mut Value)| {
        let mut other = answer.clone();
        change(&mut other["joints"][0]);
        wrong(&other, &schema, &schema, "")
    };
    assert!(!changed(&|row| row["hours"]["unit"] = json!("days")).is_empty());
    assert!(!changed(&|row| row["hours"] = json!(12.5)).is_empty());
    assert!(!changed(&|row| drop(row.as_object_mut().unwrap().remove("wall"))).is_empty());
    assert!(changed(&|row| row["wall"] = Value::Null).is_empty());
    assert!(changed(&|row| row["added"] = json!("later")).is_empty());
    // Of what writes nothing is done, and an error has a schema, too.
    let refused = desk.run(&["schema", "enter", "note", "serial=K1-0401", "text=x"]).fails(2);
    assert!(refused.contains("--dry-run"), "{refused}");
    let schema = desk.run(&["schema"]).json();
    let error: Value =
        serde_json::from_str(&desk.run(&["find", "clas = 1", "--json"]).fails(2)).unwrap();
    assert_eq!(wrong(&error, &schema, &schema, ""), Vec::<String>::new());
}
