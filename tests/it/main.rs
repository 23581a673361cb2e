mod hydraulics;
mod outside;
