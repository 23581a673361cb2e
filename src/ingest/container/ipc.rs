//! Arrow IPC, file and stream, message by message: lengths are checked before the decoder believes them.

use super::cells::Made;
use super::columnar::{Opened, rows_at_once};
use super::fault::{Fault, of_decoder};
use super::foreign::guarded;
use super::table::{self, Columns};
use arrow::array::RecordBatch;
use arrow::buffer::Buffer;
use arrow::ipc::reader::StreamDecoder;
use arrow::ipc::{CompressionType, Message, MessageHeader, root_as_message};
use std::collections::VecDeque;
use std::io::{self, Read};

const ARROW: &str = "Arrow file";
/// One message of Arrow [bytes], stored and unpacked: a batch of readings is some MiB.
const LONGEST_HEADER: usize = 64 << 20;
const LONGEST_BODY: i64 = 1 << 30;
/// Bytes read at once.
const STEP: u64 = 1 << 20;

/// Arrow IPC as text: the file format is the stream format between two marks.
pub(super) fn arrow<'a>(mut stored: Box<dyn Read + Send + 'a>, is_file: bool) -> io::Result<Opened<'a>> {
    if is_file {
        stored.read_exact(&mut [0; 8]).map_err(|e| of_decoder(e, ARROW, 0))?;
    }
    let mut messages = Messages {
        stored,
        decoder: StreamDecoder::new(),
        at: if is_file { 8 } else { 0 },
        found: VecDeque::new(),
        ended: false,
    };
    let schema = loop {
        let goes_on = messages.next()?;
        match messages.decoder.schema() {
            Some(schema) => break schema,
            None if goes_on => {}
            None => return Err(Fault::CutOff { what: ARROW, at: messages.at }.into()),
        }
    };
    let Columns { kept, left_out } = table::columns(&schema);
    let mut is_new = true;
    // A batch may be far larger than what is wanted as text at once.
    let mut held: Option<(RecordBatch, usize)> = None;
    let rows = rows_at_once(kept.len());
    let text = Made::new(move |out: &mut Vec<u8>| {
        if std::mem::take(&mut is_new) {
            table::header(&schema, &kept, out);
            return Ok(true);
        }
        if held.is_none() && messages.found.is_empty() && !messages.next()? {
            return Ok(false);
        }
        if held.is_none() {
            held = messages.found.pop_front().map(|b| (b, 0));
        }
        if let Some((batch, from)) = held.take() {
            let len = rows.min(batch.num_rows() - from);
            guarded(ARROW, || table::rows(&batch.slice(from, len), &kept, out)).map_err(|e| of_decoder(e, ARROW, 0))?;
            if from + len < batch.num_rows() {
                held = Some((batch, from + len));
            }
        }
        Ok(true)
    });
    Ok(Opened { text: Box::new(text), left_out })
}

struct Messages<'a> {
    stored: Box<dyn Read + Send + 'a>,
    decoder: StreamDecoder,
    /// Bytes read.
    at: u64,
    /// Decoded and not yet taken.
    found: VecDeque<RecordBatch>,
    ended: bool,
}

/// What stands behind the last message.
const LAST: [u8; 8] = [0xFF, 0xFF, 0xFF, 0xFF, 0, 0, 0, 0];

impl Messages<'_> {
    /// One message: 0xFFFFFFFF, length, header, body. Source: Arrow Columnar Format, "Encapsulated message format".
    /// False at the end, when all batches have been found.
    fn next(&mut self) -> io::Result<bool> {
        if self.ended {
            return Ok(!self.found.is_empty());
        }
        let mut start = self.bytes(8, 0)?;
        if start.is_empty() || start.starts_with(b"ARROW1") {
            return self.end();
        }
        let len = start.get(4..8).map(|b| u32::from_le_bytes([b[0], b[1], b[2], b[3]]));
        let Some(len) = len.filter(|_| start[..4] == [0xFF; 4]) else {
            return Err(damaged("a message does not start as one", self.at));
        };
        if len == 0 {
            return self.end();
        }
        let len = usize::try_from(len).unwrap_or(usize::MAX);
        if len > LONGEST_HEADER {
            return Err(damaged("a message's header is longer than any", self.at));
        }
        let header = self.bytes(len, len)?;
        let body = {
            let message = root_as_message(&header).map_err(|e| damaged(&e.to_string(), self.at))?;
            let len = message.bodyLength();
            if !(0..=LONGEST_BODY).contains(&len) {
                return Err(damaged("a message's body is longer than 1 GiB", self.at));
            }
            let len = usize::try_from(len).unwrap_or(0);
            let body = self.bytes(len, len)?;
            check(&message, &body).map_err(|why| damaged(why, self.at))?;
            body
        };
        start.extend_from_slice(&header);
        // The body apart, so that its arrays are where the allocator put them: aligned.
        self.decode(start)?;
        self.decode(body)?;
        Ok(true)
    }

    /// The decoder finishes a message without a body only when more follows.
    fn end(&mut self) -> io::Result<bool> {
        self.ended = true;
        self.decode(LAST.to_vec())?;
        Ok(!self.found.is_empty())
    }

    fn decode(&mut self, bytes: Vec<u8>) -> io::Result<()> {
        let (decoder, found, at) = (&mut self.decoder, &mut self.found, self.at);
        guarded(ARROW, || {
            let mut bytes = Buffer::from_vec(bytes);
            while !bytes.is_empty() {
                found.extend(decoder.decode(&mut bytes).map_err(|e| damaged(&e.to_string(), at))?);
            }
            Ok(())
        })
    }

    /// Bytes as they come, so that a length is only believed as far as there are bytes; `least` of them there must be.
    fn bytes(&mut self, wanted: usize, least: usize) -> io::Result<Vec<u8>> {
        let mut found = Vec::new();
        while found.len() < wanted {
            let step = STEP.min((wanted - found.len()) as u64);
            let read = (&mut self.stored).take(step).read_to_end(&mut found)?;
            self.at += read as u64;
            if read == 0 {
                break;
            }
        }
        if found.len() < least {
            return Err(Fault::CutOff { what: ARROW, at: self.at }.into());
        }
        Ok(found)
    }
}

/// Holds a message's places and lengths to its body, before anything is set aside for them.
fn check(message: &Message<'_>, body: &[u8]) -> Result<(), &'static str> {
    let batch = match message.header_type() {
        MessageHeader::RecordBatch => message.header_as_record_batch(),
        MessageHeader::DictionaryBatch => message.header_as_dictionary_batch().and_then(|d| d.data()),
        _ => return Ok(()),
    };
    let Some(batch) = batch else { return Err("a batch holds nothing") };
    let codec = batch.compression().map(|c| c.codec());
    if codec.is_some_and(|c| c != CompressionType::LZ4_FRAME && c != CompressionType::ZSTD) {
        return Err("packed in a way that is not known here");
    }
    let nodes = batch.nodes().into_iter().flatten();
    if batch.length() < 0 || nodes.clone().any(|n| n.length() < 0 || n.null_count() < 0 || n.null_count() > n.length())
    {
        return Err("a batch of a length below none");
    }
    let mut unpacked = 0_i64;
    for buffer in batch.buffers().into_iter().flatten() {
        let (from, len) = (usize::try_from(buffer.offset()), usize::try_from(buffer.length()));
        let (Ok(from), Ok(len)) = (from, len) else { return Err("a buffer of a length below none") };
        let Some(bytes) = from.checked_add(len).and_then(|end| body.get(from..end)) else {
            return Err("a buffer lies outside its message");
        };
        if codec.is_some()
            && let Some(size) = bytes.first_chunk::<8>()
        {
            unpacked = unpacked.saturating_add(i64::from_le_bytes(*size).max(0));
        }
    }
    if unpacked > LONGEST_BODY { Err("a message unpacks to more than 1 GiB") } else { Ok(()) }
}

fn damaged(why: &str, at: u64) -> io::Error {
    Fault::Damaged { what: ARROW, at, why: why.to_string() }.into()
}
