//! The company's picture, carried inside the papers.

/// The most that a picture may take.
pub const MOST_BYTES: usize = 512 * 1024;

/// The picture as a `data:` address, for its file's name and bytes.
///
/// # Errors
///
/// If it is too large, of another kind than PNG, JPEG or SVG, or not what its name says.
pub fn address(name: &str, bytes: &[u8]) -> anyhow::Result<String> {
    anyhow::ensure!(
        bytes.len() <= MOST_BYTES,
        "logo `{name}` has {} KiB; at most {} KiB fit on a paper",
        bytes.len().div_ceil(1024),
        MOST_BYTES / 1024
    );
    let ending = name.rsplit_once('.').map(|(_, e)| e.to_ascii_lowercase()).unwrap_or_default();
    let svg = || {
        let text = std::str::from_utf8(bytes).unwrap_or_default().trim_start_matches('\u{feff}');
        text.trim_start().starts_with('<') && text.contains("<svg")
    };
    let (kind, right) = match ending.as_str() {
        "png" => ("image/png", bytes.starts_with(b"\x89PNG\r\n\x1a\n")),
        "jpg" | "jpeg" => ("image/jpeg", bytes.starts_with(b"\xff\xd8\xff")),
        "svg" => ("image/svg+xml", svg()),
        _ => anyhow::bail!("logo `{name}` is no .png, .jpg or .svg file"),
    };
    anyhow::ensure!(right, "logo `{name}` is not what its name says: no {kind} picture");
    Ok(format!("data:{kind};base64,{}", base64(bytes)))
}

/// RFC 4648, section 4.
fn base64(bytes: &[u8]) -> String {
    const SIGNS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut out = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for chunk in bytes.chunks(3) {
        let n = (0..3).fold(0u32, |n, i| n << 8 | u32::from(chunk.get(i).copied().unwrap_or(0)));
        for i in 0..4 {
            let six = (n >> (18 - 6 * i)) & 63;
            out.push(if i <= chunk.len() { char::from(SIGNS[six as usize]) } else { '=' });
        }
    }
    out
}
