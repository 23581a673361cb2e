mod declared;
mod faults;
mod regimes;

#[test]
fn builds() {}
