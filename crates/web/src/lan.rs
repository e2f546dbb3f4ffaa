//! The door to the network: its certificate, and what a person has to compare before they trust it.
//!
//! The certificate is made here, signed by a root that is made with it. The root's key is thrown away as soon as it has signed: a
//! device that was told to trust the root trusts nothing but this one certificate, and nobody can make another. Key and certificates
//! stand in one file of the workspace folder that only its owner may read.

use crate::window::FirstCode;
use jiff::civil::Date;
use jiff::{Timestamp, ToSpan as _};
use qrcode::QrCode;
use qrcode::render::svg;
use rcgen::{
    BasicConstraints, CertificateParams, DistinguishedName, DnType, ExtendedKeyUsagePurpose, IsCa, Issuer,
    KeyPair, KeyUsagePurpose, date_time_ymd,
};
use rustls::ServerConfig;
use rustls::pki_types::pem::PemObject as _;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use sha2::{Digest, Sha256};
use std::io::{self, Write as _};
use std::net::IpAddr;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Where to listen in the network.
#[derive(Clone, Debug)]
pub struct LanOptions {
    /// Address of this machine in the network.
    pub address: IpAddr,
    /// Port; 0 takes a free one.
    pub port: u16,
    /// Further names by which the network knows this machine.
    pub names: Vec<String>,
    /// Folder of the workspace, where the certificate is kept.
    pub folder: PathBuf,
}

/// What a tablet has to be told.
#[derive(Clone, Debug)]
pub struct Pairing {
    /// Addresses to open, the first the one for the code.
    pub urls: Vec<String>,
    /// SHA-256 of the certificate, in groups.
    pub fingerprint: String,
    /// SHA-256 of the root, in groups.
    pub root_fingerprint: String,
    /// The last day of the certificate.
    pub until: Date,
    /// Whether it was made at this start.
    pub fresh: bool,
    /// The root, for the tablet to install.
    pub root: Vec<u8>,
}

impl Pairing {
    /// The first address as a code to point a camera at: dark on light, whatever the page is.
    #[must_use]
    pub fn code(&self) -> Option<String> {
        let url = self.urls.first()?;
        let drawn =
            QrCode::new(url.as_bytes()).ok()?.render::<svg::Color<'_>>().min_dimensions(240, 240).build();
        // Only the element: the declaration before it has no place inside a page.
        drawn.find("<svg").map(|at| drawn[at..].to_owned())
    }
}

/// Name of the file in the folder of the workspace.
pub const FILE: &str = "lan-certificate.pem";
/// Days a certificate is good for; browsers refuse much more (from memory: 398).
const DAYS: i32 = 396;
/// A certificate with fewer days left is made anew.
const FEWEST_DAYS: i32 = 30;

/// A certificate with its key.
#[derive(Debug)]
pub struct Certificate {
    /// The settings of a server that has it.
    pub config: Arc<ServerConfig>,
    /// SHA-256 of the certificate, in groups.
    pub fingerprint: String,
    /// SHA-256 of the root, in groups.
    pub root_fingerprint: String,
    /// The root.
    pub root: Vec<u8>,
    /// The last day.
    pub until: Date,
    /// Whether it was made just now.
    pub fresh: bool,
}

impl Certificate {
    /// The certificate in a folder, if it is for these names and good for some time; else a new one takes its place.
    ///
    /// # Errors
    /// The folder cannot be written, or the machine has no random bytes to give.
    pub fn of(folder: &Path, names: &[String], now: Timestamp) -> io::Result<Self> {
        let today = jiff::tz::Offset::UTC.to_datetime(now).date();
        let path = folder.join(FILE);
        if let Ok(text) = std::fs::read_to_string(&path)
            && let Some(found) = Self::read(&text, names, today)
        {
            return Ok(found);
        }
        let until = today.checked_add(DAYS.days()).map_err(io::Error::other)?;
        let text =
            made(names, today.yesterday().map_err(io::Error::other)?, until).map_err(io::Error::other)?;
        let text = format!("{}\n{text}", first_line(names, until));
        write_private(&path, &text)?;
        Self::read(&text, names, today)
            .map(|found| Self { fresh: true, ..found })
            .ok_or_else(|| io::Error::other("the certificate that was just made cannot be read"))
    }

    /// Reads key and certificates; nothing where they are not whole, for other names or nearly over.
    fn read(text: &str, names: &[String], today: Date) -> Option<Self> {
        let (first, _) = text.split_once('\n')?;
        let until: Date = first.rsplit_once(" until ")?.1.parse().ok()?;
        if first != first_line(names, until) || until < today.checked_add(FEWEST_DAYS.days()).ok()? {
            return None;
        }
        let chain: Vec<CertificateDer<'static>> =
            CertificateDer::pem_slice_iter(text.as_bytes()).collect::<Result<_, _>>().ok()?;
        let key = PrivateKeyDer::from_pem_slice(text.as_bytes()).ok()?;
        let [own, root] = chain.as_slice() else { return None };
        let (fingerprint, root_fingerprint) = (groups(own), groups(root));
        let root = root.to_vec();
        let provider = Arc::new(rustls::crypto::ring::default_provider());
        let mut config = ServerConfig::builder_with_provider(provider)
            .with_safe_default_protocol_versions()
            .ok()?
            .with_no_client_auth()
            .with_single_cert(chain, key)
            .ok()?;
        config.alpn_protocols = vec![b"http/1.1".to_vec()];
        Some(Self { config: Arc::new(config), fingerprint, root_fingerprint, root, until, fresh: false })
    }
}

/// What the file begins with: for whom it is and until when.
fn first_line(names: &[String], until: Date) -> String {
    format!("Levigate in the network, for {}, until {until}", names.join(" "))
}

/// Makes root, key and certificate and writes key and both certificates.
fn made(names: &[String], from: Date, until: Date) -> Result<String, rcgen::Error> {
    let day = |day: Date| {
        let part = |part: i8| u8::try_from(part).unwrap_or(1);
        date_time_ymd(i32::from(day.year()), part(day.month()), part(day.day()))
    };
    let called = |name: String| {
        let mut called = DistinguishedName::new();
        called.push(DnType::CommonName, name);
        called
    };
    let mut root = CertificateParams::new(Vec::new())?;
    root.distinguished_name =
        called(format!("Levigate at {}, {from}", names.first().map_or("", |name| name)));
    root.is_ca = IsCa::Ca(BasicConstraints::Constrained(0));
    root.key_usages = vec![KeyUsagePurpose::KeyCertSign];
    (root.not_before, root.not_after) = (day(from), day(until));
    let root_key = KeyPair::generate()?;
    let root_certificate = root.self_signed(&root_key)?;
    let issuer = Issuer::new(root, root_key);
    let mut own = CertificateParams::new(names.to_vec())?;
    own.distinguished_name = called("Levigate".to_owned());
    own.use_authority_key_identifier_extension = true;
    own.key_usages = vec![KeyUsagePurpose::DigitalSignature];
    own.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
    (own.not_before, own.not_after) = (day(from), day(until));
    let key = KeyPair::generate()?;
    let certificate = own.signed_by(&key, &issuer)?;
    Ok(format!("{}{}{}", key.serialize_pem(), certificate.pem(), root_certificate.pem()))
}

/// Writes a file that only its owner may read, whole or not at all.
fn write_private(path: &Path, text: &str) -> io::Result<()> {
    let beside = path.with_extension("new");
    let _ = std::fs::remove_file(&beside);
    let mut options = std::fs::OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt as _;
        options.mode(0o600);
    }
    let mut file = options.open(&beside)?;
    file.write_all(text.as_bytes())?;
    file.sync_all()?;
    std::fs::rename(&beside, path)
}

/// SHA-256 in groups of two bytes, for eyes that compare.
fn groups(bytes: &[u8]) -> String {
    let digest = Sha256::digest(bytes);
    digest.chunks(2).map(|two| format!("{:02X}{:02X}", two[0], two[1])).collect::<Vec<_>>().join(" ")
}

/// Letters and digits that are not mistaken for each other.
const SIGNS: &[u8; 32] = b"23456789ABCDEFGHJKLMNPQRSTUVWXYZ";
/// Wrong guesses of the code.
const GUESSES: u32 = 10;

impl FirstCode {
    /// A new code of eight signs: 40 bits, and ten guesses.
    ///
    /// # Errors
    /// The machine has no random bytes to give.
    pub fn roll() -> io::Result<Self> {
        let mut bytes = [0_u8; 8];
        getrandom::fill(&mut bytes).map_err(|error| io::Error::other(error.to_string()))?;
        let code = bytes.map(|byte| char::from(SIGNS[usize::from(byte & 31)])).iter().collect();
        Ok(Self { code, left: GUESSES })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names() -> Vec<String> {
        ["192.0.2.7", "bench.example"].map(str::to_owned).to_vec()
    }

    #[test]
    fn a_certificate_is_kept_until_it_is_nearly_over_or_for_other_names() {
        let folder = tempfile::tempdir().unwrap();
        let now: Timestamp = "2026-11-27T09:00:00Z".parse().unwrap();
        let first = Certificate::of(folder.path(), &names(), now).unwrap();
        assert!(first.fresh && first.until.to_string() == "2027-12-28", "{}", first.until);
        let groups: Vec<&str> = first.fingerprint.split(' ').collect();
        assert!(groups.len() == 16 && groups.iter().all(|group| group.len() == 4), "{groups:?}");
        let again = Certificate::of(folder.path(), &names(), now).unwrap();
        assert!(!again.fresh && again.fingerprint == first.fingerprint && again.root == first.root);
        let late = Certificate::of(folder.path(), &names(), "2027-11-29T09:00:00Z".parse().unwrap()).unwrap();
        assert!(late.fresh && late.fingerprint != first.fingerprint);
        let other = Certificate::of(folder.path(), &names()[..1], now).unwrap();
        assert!(other.fresh);
        // A file that is not whole is made anew.
        std::fs::write(folder.path().join(FILE), "half").unwrap();
        assert!(Certificate::of(folder.path(), &names(), now).unwrap().fresh);
    }

    #[cfg(unix)]
    #[test]
    fn only_its_owner_may_read_the_key_and_the_roots_key_is_gone() {
        use std::os::unix::fs::PermissionsExt as _;
        let folder = tempfile::tempdir().unwrap();
        Certificate::of(folder.path(), &names(), Timestamp::now()).unwrap();
        let path = folder.path().join(FILE);
        assert_eq!(std::fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o600);
        let text = std::fs::read_to_string(path).unwrap();
        assert_eq!(text.matches("PRIVATE KEY-----").count(), 2, "one key, begun and ended");
        assert_eq!(text.matches("BEGIN CERTIFICATE").count(), 2);
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_code_has_eight_plain_signs() {
        let (one, two) = (FirstCode::roll().unwrap(), FirstCode::roll().unwrap());
        assert!(one.code.len() == 8 && one.code.bytes().all(|sign| SIGNS.contains(&sign)));
        assert_ne!(one.code, two.code);
        assert!(!format!("{one:?}").contains(&one.code));
    }
}
