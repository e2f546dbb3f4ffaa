//! Text that people typed, made harmless for the place it goes to.

use std::fmt::{self, Display, Formatter};

/// Text for HTML and SVG, as content or inside a quoted attribute. Control characters that markup forbids are left out.
pub(crate) struct Markup<'a>(pub(crate) &'a str);

impl Display for Markup<'_> {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        for character in self.0.chars() {
            match character {
                '&' => f.write_str("&amp;")?,
                '<' => f.write_str("&lt;")?,
                '>' => f.write_str("&gt;")?,
                '"' => f.write_str("&quot;")?,
                '\'' => f.write_str("&#39;")?,
                '\n' | '\t' => f.write_str(" ")?,
                c if is_forbidden(c) => {}
                c => write!(f, "{c}")?,
            }
        }
        Ok(())
    }
}

/// Text for a string inside a style sheet: everything but letters and digits as an escape.
pub(crate) struct StyleString<'a>(pub(crate) &'a str);

impl Display for StyleString<'_> {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        for character in self.0.chars() {
            if character.is_ascii_alphanumeric() || character == ' ' {
                write!(f, "{character}")?;
            } else if !is_forbidden(character) {
                // The blank ends the escape and is swallowed with it.
                write!(f, "\\{:06x} ", u32::from(character))?;
            }
        }
        Ok(())
    }
}

/// Control characters, lone direction overrides and non-characters: nothing a name needs, and trouble in every format.
fn is_forbidden(character: char) -> bool {
    character.is_control()
        || matches!(character, '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}' | '\u{FFFE}' | '\u{FFFF}')
}

/// A copy without such characters, for formats that take text as data.
pub(crate) fn without_controls(text: &str) -> String {
    text.chars().map(|c| if c == '\n' || c == '\t' { ' ' } else { c }).filter(|c| !is_forbidden(*c)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn markup_is_harmless() {
        let hostile = "<script>alert('x')</script>&\"\u{202E}\u{0}";
        assert_eq!(Markup(hostile).to_string(), "&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt;&amp;&quot;");
    }

    #[test]
    fn a_style_string_cannot_end_early() {
        let escaped = StyleString("a\"; } </style>").to_string();
        assert!(!escaped.contains(['"', '<', '}', ';']), "{escaped}");
    }
}
