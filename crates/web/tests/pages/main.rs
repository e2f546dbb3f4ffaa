//! The pages from outside and from below: the desk over a workspace, the routes over the desk, and what nobody should send.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on shall stop where it is")]

mod adjusting;
mod batches;
mod bench;
mod desk;
mod hostile;
mod house;
mod measured;
mod memory;
mod network;
mod people;
mod routes;
mod sure;
