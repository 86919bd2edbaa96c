//! The macros that declare words and tables of the job's files, and the reference made from them.

/// Words that a key may have as its value, each standing for an enum.
macro_rules! words {
    ($($(#[$doc:meta])* $Name:ident { $($Variant:ident $text:literal $about:literal;)* })*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        pub enum $Name {$(#[doc = $about] $Variant,)*}

        impl $Name {
            /// All words.
            pub const WORDS: &'static [&'static str] = &[$($text,)*];
            /// The word for it.
            pub fn word(self) -> &'static str {
                match self {$($Name::$Variant => $text,)*}
            }
        }

        impl crate::jobfile::value::Value for $Name {
            fn kind() -> String {
                let words: Vec<String> = Self::WORDS.iter().map(|w| format!("`{w}`")).collect();
                words.join(", ")
            }
            fn read(
                v: &toml::Spanned<toml::de::DeValue<'_>>,
                cx: &mut crate::jobfile::value::Cx,
            ) -> Option<Self> {
                let text = String::read(v, cx)?;
                let span = cx.span(v);
                Self::cell(&text, span, cx)
            }
            fn cell(
                text: &str,
                span: crate::diag::Span,
                cx: &mut crate::jobfile::value::Cx,
            ) -> Option<Self> {
                let word = text.trim();
                $(if word.eq_ignore_ascii_case($text) {
                    return Some($Name::$Variant);
                })*
                        let hint = crate::diag::nearest(word, Self::WORDS.iter().copied())
                            .map(|n| format!("did you mean `{n}`?"));
                        let found = crate::jobfile::value::clip(word);
                        let words = Self::WORDS.to_vec();
                        cx.tell(crate::diag::Fault::NotOneOf { found, words }, span, None, hint);
                        None
            }
        }
    )*};
}
pub(crate) use words;

/// One key of the job's files, for README and for the messages.
#[derive(Clone, Debug)]
pub struct Key {
    /// Its name.
    pub name: &'static str,
    /// What may stand there, with unit and range.
    pub kind: String,
    /// `required`, its default, or blank.
    pub default: &'static str,
    /// What it means.
    pub about: &'static str,
}

/// Tables of the job file: the struct, its reading and its key reference from one declaration.
/// A default of `required` makes a missing key a fault.
macro_rules! tables {
    ($($(#[$doc:meta])* $Row:ident $name:literal {
        $($key:ident: $ty:ty, $default:literal, $about:literal;)*
    })*) => {$(
        $(#[$doc])*
        #[derive(Clone, Debug, Default)]
        pub struct $Row {
            /// Where the table stands.
            pub span: crate::diag::Span,
            $(#[doc = $about] pub $key: Option<crate::jobfile::value::At<$ty>>,)*
        }

        impl $Row {
            /// What the table is called.
            pub const NAME: &'static str = $name;

            /// Its keys.
            pub fn keys() -> Vec<crate::jobfile::tables::Key> {
                vec![$(crate::jobfile::tables::Key {
                    name: stringify!($key),
                    kind: <$ty as crate::jobfile::value::Value>::kind(),
                    default: $default,
                    about: $about,
                },)*]
            }

            /// Reads one cell of a schedule into the key `key`, if there is such a key.
            #[allow(dead_code)]
            pub(crate) fn set(
                &mut self,
                key: &str,
                text: &str,
                span: crate::diag::Span,
                cx: &mut crate::jobfile::value::Cx,
            ) {
                match key {
                    $(stringify!($key) => {
                        self.$key = <$ty as crate::jobfile::value::Value>::cell(text, span, cx)
                            .map(|value| crate::jobfile::value::At { value, span });
                    })*
                    _ => {}
                }
            }

            /// Tells which required keys are missing.
            pub(crate) fn missing(&self, written: &[&str], cx: &mut crate::jobfile::value::Cx) {
                $(if $default == "required" && self.$key.is_none()
                    && !written.contains(&stringify!($key))
                {
                    cx.fault(
                        crate::diag::Fault::MissingKey {
                            key: stringify!($key).to_string(),
                            table: $name.to_string(),
                            about: $about.to_string(),
                        },
                        self.span,
                    );
                })*
                let _ = (written, cx);
            }
        }

        impl crate::jobfile::value::Value for $Row {
            fn kind() -> String {
                concat!("table `", $name, "`").to_string()
            }
            fn read(
                v: &toml::Spanned<toml::de::DeValue<'_>>,
                cx: &mut crate::jobfile::value::Cx,
            ) -> Option<Self> {
                let span = cx.span(v);
                let table = cx.table(v)?;
                Some(Self::from_table(table, span, cx))
            }
        }

        impl $Row {
            /// Reads the table, telling every unknown and every missing key.
            pub(crate) fn from_table(
                table: &toml::de::DeTable<'_>,
                span: crate::diag::Span,
                cx: &mut crate::jobfile::value::Cx,
            ) -> Self {
                let mut row = $Row { span, ..Default::default() };
                let mut written = Vec::new();
                for (key, value) in table {
                    let name: &str = key.get_ref();
                    written.push(name);
                    match name {
                        $(stringify!($key) => {
                            row.$key = crate::jobfile::value::at(value, cx);
                        })*
                        _ => {
                            let known = [$(stringify!($key),)*];
                            let hint = crate::diag::nearest(name, known)
                                .map(|n| format!("did you mean `{n}`?"));
                            let fault = crate::diag::Fault::UnknownKey {
                                key: crate::jobfile::value::clip(name),
                                table: $name.to_string(),
                            };
                            let span = cx.span(key);
                            cx.tell(fault, span, None, hint);
                        }
                    }
                }
                row.missing(&written, cx);
                row
            }
        }
    )*};
}
pub(crate) use tables;
