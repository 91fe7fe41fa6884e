//! Files of keys: outside the book, secret ones readable by their owner only.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use super::error::{Result, StoreError};
use super::whole::text_of;
use crate::ledger::{KEY_LENGTH, KnownKeys, PublicKey, SecretKey};
use crate::model::Site;

/// Largest file of keys that is read.
const MOST: u64 = 1 << 20;

/// Where the public half of a key is written.
pub fn public_file(secret: &Path) -> PathBuf {
    let mut name = secret.as_os_str().to_owned();
    name.push(".pub");
    PathBuf::from(name)
}

/// Where a book's known keys stand unless another file is named.
pub fn known_keys_file(book: &Path) -> PathBuf {
    let mut name = book.as_os_str().to_owned();
    name.push(".keys");
    PathBuf::from(name)
}

/// Makes a key for a site and writes both halves to files where nothing stands.
pub fn make_key(file: &Path, site: Site, holder: &str) -> Result<PublicKey> {
    let mut seed = [0; KEY_LENGTH];
    getrandom::fill(&mut seed).map_err(|e| StoreError::io(file, std::io::Error::other(e)))?;
    let key = SecretKey::from_seed(site, &seed);
    let public = key.public(holder);
    let beside = public_file(file);
    if beside.exists() {
        return Err(StoreError::Exists { path: beside });
    }
    write_new(file, &key.to_text(), true)?;
    write_new(&beside, &public.to_text(), false)?;
    Ok(public)
}

fn write_new(path: &Path, text: &str, secret: bool) -> Result<()> {
    let mut options = fs::OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    if secret {
        use std::os::unix::fs::OpenOptionsExt;
        options.mode(0o600);
    }
    #[cfg(not(unix))]
    let _ = secret;
    let write = || -> std::io::Result<()> {
        let mut file = options.open(path)?;
        file.write_all(text.as_bytes())?;
        file.sync_all()
    };
    write().map_err(|e| {
        if e.kind() == std::io::ErrorKind::AlreadyExists {
            StoreError::Exists { path: path.to_path_buf() }
        } else {
            StoreError::io(path, e)
        }
    })
}

fn read(path: &Path) -> Result<String> {
    text_of(path, MOST).map_err(|e| StoreError::io(path, e))
}

/// Reads a secret key.
pub fn read_secret(path: &Path) -> Result<SecretKey> {
    SecretKey::parse(&read(path)?)
        .map_err(|source| StoreError::Keys { path: path.to_path_buf(), source })
}

/// Reads a file of known keys.
pub fn read_known(path: &Path) -> Result<KnownKeys> {
    KnownKeys::parse(&read(path)?)
        .map_err(|source| StoreError::Keys { path: path.to_path_buf(), source })
}
