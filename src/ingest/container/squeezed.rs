//! gzip and Zstandard as streams: several members or frames one after another are one text.

use super::source::{Tally, Watched};
use flate2::bufread::GzDecoder;
use std::io::{self, BufRead, BufReader, Read};
use std::sync::Arc;

const GZIP: &str = "gzip stream";
const ZSTD: &str = "Zstandard stream";
const BLOCK: usize = 64 << 10;

/// What a gzip stream holds.
pub(super) fn gzip<'a>(stored: Box<dyn Read + Send + 'a>, tally: &Arc<Tally>) -> Watched<impl Read + Send + 'a> {
    let members = Members { open: Some(GzDecoder::new(BufReader::with_capacity(BLOCK, stored))) };
    Watched { inner: members, what: GZIP, tally: tally.clone() }
}

/// What a Zstandard stream holds. Its window is at most 128 MiB, so memory is bounded.
pub(super) fn zstd<'a>(
    stored: Box<dyn Read + Send + 'a>,
    tally: &Arc<Tally>,
) -> io::Result<Watched<impl Read + Send + 'a>> {
    let frames = zstd::stream::read::Decoder::new(stored)?;
    Ok(Watched { inner: frames, what: ZSTD, tally: tally.clone() })
}

/// The members of a gzip file; zeros behind the last one are padding.
struct Members<R> {
    open: Option<GzDecoder<R>>,
}

impl<R: BufRead> Read for Members<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        while let Some(open) = &mut self.open {
            let n = open.read(into)?;
            if n > 0 || into.is_empty() {
                return Ok(n);
            }
            let Some(done) = self.open.take() else { break };
            let mut rest = done.into_inner();
            self.open = if is_padding(&mut rest)? { None } else { Some(GzDecoder::new(rest)) };
        }
        Ok(0)
    }
}

/// Steps over zeros; true when nothing else follows.
fn is_padding<R: BufRead>(rest: &mut R) -> io::Result<bool> {
    loop {
        let bytes = rest.fill_buf()?;
        if bytes.is_empty() {
            return Ok(true);
        }
        let zeros = bytes.iter().take_while(|b| **b == 0).count();
        let next = bytes.get(zeros).copied();
        rest.consume(zeros);
        match next {
            None => {}
            Some(0x1F) => return Ok(false),
            Some(_) => return Err(io::Error::other("something else follows its end")),
        }
    }
}
