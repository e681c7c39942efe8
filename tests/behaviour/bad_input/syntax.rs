//! What the reader of the format refuses: one fault, with its line.

use super::*;

#[test]
fn unknown_keys() {
    assert_snapshot!(syntax(&spoilt(SHOP, "title =", "titel =")), @r#"
    TOML parse error at line 3, column 1
      |
    3 | titel = "small shop"
      | ^^^^^
    unknown field `titel`, expected one of `format`, `title`, `assume`, `air`, `junction`, `wall`, `collector`, `section`, `machine`, `use`, `check`, `upgrade`, `sizing`, `price`, `takeoff`, `transport`, `filter_gauge`, `room`, `future`, `reading`, `calibrate`
    "#);
    assert_snapshot!(syntax(&spoilt(SHOP, "join = {", "jion = {")), @r#"
    TOML parse error at line 36, column 1
       |
    36 | jion = { angle = "45 deg" }
       | ^^^^
    unknown field `jion`, expected one of `id`, `into`, `join`, `size`, `wall`, `parts`, `tightness`, `hood`, `capped`, `leak`, `junction`
    "#);
    assert_snapshot!(syntax(&spoilt(SHOP, "compression", "compresion")), @r#"
    TOML parse error at line 30, column 57
       |
    30 | parts = [{ hose = { length = "1.2 m", kind = { wire = { compresion = 0.1 } } } }, { gate = { opening = 1.0 } }, { duct = "3 m" }]
       |                                                         ^^^^^^^^^^
    unexpected keys in table: compresion, available keys: compression
    "#);
    assert_snapshot!(syntax(&spoilt(SHOP, "{ elbow = {", "{ elbwo = {")), @r#"
    TOML parse error at line 24, column 30
       |
    24 | parts = [{ duct = "6 m" }, { elbwo = { smooth = { r_over_d = 1.5, angle = "90 deg" } } }]
       |                              ^^^^^
    unknown variant `elbwo`, expected one of `duct`, `hose`, `elbow`, `transition`, `gate`, `filter`, `separator`, `port`, `silencer`, `k`, `unknown_elbow`, `unknown_filter`, `unknown_separator`
    "#);
    assert_snapshot!(syntax(&spoilt(SHOP, "elbow = { smooth", "elbow = { smoth")), @r#"
    TOML parse error at line 24, column 40
       |
    24 | parts = [{ duct = "6 m" }, { elbow = { smoth = { r_over_d = 1.5, angle = "90 deg" } } }]
       |                                        ^^^^^
    unknown variant `smoth`, expected one of `k`, `gored`, `stamped`, `smooth`, `mitre`
    "#);
    assert_snapshot!(syntax(&spoilt(SHOP, "altitude =", "altitud =")), @r#"
    TOML parse error at line 5, column 9
      |
    5 | air = { altitud = "250 m", temperature = "20 C", relative_humidity = 0.5 }
      |         ^^^^^^^
    unknown field `altitud`, expected one of `altitude`, `barometer`, `temperature`, `relative_humidity`, `density`, `viscosity`
    "#);
    assert_snapshot!(syntax(&spoilt(SHOP, "entry = \"plain\"", "entry = \"plane\"")), @r#"
    TOML parse error at line 39, column 38
       |
    39 | hood = { id = "saw cabinet", entry = "plane", required = "400 cfm" }
       |                                      ^^^^^^^
    unknown variant `plane`, expected one of `k`, `coefficient`, `plain`, `flanged`, `bellmouth`, `tapered`, `compound`
    "#);
    assert_snapshot!(syntax(&spoilt(SHOP, "{ duct = \"3 m\" }", "{ duct = \"3 m\", k = 0.1 }")), @r#"
    TOML parse error at line 30, column 114
       |
    30 | parts = [{ hose = { length = "1.2 m", kind = { wire = { compression = 0.1 } } } }, { gate = { opening = 1.0 } }, { duct = "3 m", k = 0.1 }]
       |                                                                                                                  ^^^^^^^^^^^^^^^^^^^^^^^^^
    `k` begins another part: put each in braces of its own, e.g. { duct = "3 m" }, { k = 0.3 }
    "#);
}

#[test]
fn missing_keys() {
    assert_snapshot!(syntax(&spoilt(SHOP, "format = 1", "")), @r#"
    TOML parse error at line 1, column 1
      |
    1 | # A small shop: what the tests of bad input spoil, one thing at a time.
      | ^
    missing field `format`
    "#);
    assert_snapshot!(syntax(&spoilt(SHOP, "id = \"saw drop\"", "")), @r#"
    TOML parse error at line 33, column 1
       |
    33 | [[section]]
       | ^^^^^^^^^^^
    missing field `id`
    "#);
    assert_snapshot!(syntax(&spoilt(SHOP, "size = { round = \"4 in\" }", "")), @r#"
    TOML parse error at line 33, column 1
       |
    33 | [[section]]
       | ^^^^^^^^^^^
    missing field `size`
    "#);
    assert_snapshot!(syntax(&spoilt(SHOP, "density = \"1.2 kg/m3\"", "")), @r#"
    TOML parse error at line 15, column 1
       |
    15 | [collector.fan]
       | ^^^^^^^^^^^^^^^
    a fan curve needs `density`: of the air in which it holds, e.g. density = "1.2 kg/m3"
    "#);
    assert_snapshot!(syntax("format = 1"), @r#"
    TOML parse error at line 1, column 1
      |
    1 | format = 1
      | ^
    missing field `collector`
    "#);
}

#[test]
fn numbers_and_units() {
    assert_snapshot!(syntax(&spoilt(SHOP, "\"4 in\"", "4")), @r#"
    TOML parse error at line 37, column 18
       |
    37 | size = { round = 4 }
       |                  ^
    a number needs a unit; accepted: m, mm, in, ft, cm
    "#);
    assert_snapshot!(syntax(&spoilt(SHOP, "\"4 in\"", "\"4\"")), @r#"
    TOML parse error at line 37, column 18
       |
    37 | size = { round = "4" }
       |                  ^^^
    "4": a number needs a unit at character 2; accepted units: m, mm, in, ft, cm
    "#);
    assert_snapshot!(syntax(&spoilt(SHOP, "\"4 in\"", "\"400 cfm\"")), @r#"
    TOML parse error at line 37, column 18
       |
    37 | size = { round = "400 cfm" }
       |                  ^^^^^^^^^
    "400 cfm": unknown unit at character 5; accepted units: m, mm, in, ft, cm
    "#);
    assert_snapshot!(syntax(&spoilt(SHOP, "\"700 m3/h\"", "\"700 mm\"")), @r#"
    TOML parse error at line 43, column 12
       |
    43 | required = "700 mm"
       |            ^^^^^^^^
    "700 mm": unknown unit at character 5; accepted units: m3/s, m3/h, L/s, cfm
    "#);
    assert_snapshot!(syntax(&spoilt(SHOP, "\"4 in\"", "\"nan in\"")), @r#"
    TOML parse error at line 37, column 18
       |
    37 | size = { round = "nan in" }
       |                  ^^^^^^^^
    "nan in": no number at character 1; accepted units: m, mm, in, ft, cm
    "#);
    assert_snapshot!(syntax(&spoilt(SHOP, "\"4 in\"", "\"1e999 in\"")), @r#"
    TOML parse error at line 37, column 18
       |
    37 | size = { round = "1e999 in" }
       |                  ^^^^^^^^^^
    "1e999 in": no finite value at character 1; accepted units: m, mm, in, ft, cm
    "#);
    assert_snapshot!(syntax(&spoilt(SHOP, "{ k = 0.5 }", "{ k = \"0.5 m\" }")), @r#"
    TOML parse error at line 31, column 44
       |
    31 | hood = { id = "planer port", entry = { k = "0.5 m" }, machine = "planer" }
       |                                            ^^^^^^^
    invalid type: string "0.5 m", expected f64
    "#);
}

#[test]
fn version() {
    assert_snapshot!(syntax(&spoilt(SHOP, "format = 1", "format = 2")), @r#"
    TOML parse error at line 2, column 10
      |
    2 | format = 2
      |          ^
    format 2 is not known; this version reads format 1
    "#);
    assert_snapshot!(syntax(&spoilt(SHOP, "format = 1", "format = \"1\"")), @r#"
    TOML parse error at line 2, column 10
      |
    2 | format = "1"
      |          ^^^
    invalid type: string "1", expected u32
    "#);
    assert_snapshot!(syntax(&spoilt(SHOP, "format = 1", "format = -1")), @r#"
    TOML parse error at line 2, column 10
      |
    2 | format = -1
      |          ^^
    invalid value: integer `-1`, expected u32
    "#);
    assert_snapshot!(syntax(&spoilt(SHOP, "format = 1", "format = 1\nformat = 1")), @r#"
    TOML parse error at line 3, column 1
      |
    3 | format = 1
      | ^^^^^^
    duplicate key
    "#);
}

/// What is wrong with a fan's curve is a fault of its own text, and so comes alone.
#[test]
fn fan_curve() {
    assert_snapshot!(syntax(&spoilt(SHOP, "\"1900 Pa\"", "\"-1900 Pa\"")), @r#"
    TOML parse error at line 15, column 1
       |
    15 | [collector.fan]
       | ^^^^^^^^^^^^^^^
    point 2: the pressure is -1900 Pa; it must be zero or more
    "#);
    assert_snapshot!(syntax(&spoilt(SHOP, "[\"1500 m3/h\"", "[\"3500 m3/h\"")), @r#"
    TOML parse error at line 15, column 1
       |
    15 | [collector.fan]
       | ^^^^^^^^^^^^^^^
    point 3: the flow 3000 m3/h is not larger than the 3500 m3/h of the point before; give the points with rising flow, each flow once
    "#);
}
