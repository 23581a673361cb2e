mod plant;
mod quantity;
