mod ingest;
mod screening;

#[test]
fn builds() {}
