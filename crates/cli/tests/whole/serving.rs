//! The server: says where it is, answers, keeps what is there, ends when told.
