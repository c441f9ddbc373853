//! End to end: the real daemon and the real client over real sockets.
//!
//! - `acceptance`: the commands that the work was ordered with, word for word
//! - `booking`, `calendar`: bookings of other systems, iCalendar both ways
//! - `outbox`: job events pushed to a real HTTP server, and the bridge
//! - `calculators`: every answer that an outside figure exists for
//! - `whole_job`: one car from booking to hand-over, with every refusal
//! - `changes`: updates, etags, going back, deleting
//! - `lists`: pages, filters, history
//! - `watching`: replay, live, resume, refusals
//! - `retries`: request ids
//! - `photos`, `handover`: files of photos, and the sheet that goes with the car
//! - `story`: the commands that the demo prints
//! - `life`: starting, stopping, settings
//! - `configuration`: the configuration file, its faults, and its reference
//! - `plugins`: installing, upgrading, enabling, disabling, removing
//! - `plugin_uploads`: too large, cut short, killed
//! - `product_ids`: calculators and records that take products by id
//! - `product_lists`: what product lists hold, and when one is damaged
//! - `protocols`: health, reflection, gRPC-Web, deadlines
//! - `quotes`: priced, stored, made once more, compared, accepted
//! - `plugin_trials`: a component on recorded jobs before it is installed
//! - `exports`: days as files, read by foreign programs
//! - `web_root`: the page beside the API, and who is turned away
//! - `bad_input`: every RPC with everything wrong
//! - `guests`: plugins in three languages, where they are built (`tests/run plugins`)
//! - `python`: a client in another language
//!
//! The tests run on several threads each: while one waits for a process, the
//! connections of the others must still be served.

mod acceptance;
mod bad_input;
mod booking;
mod calculators;
mod calendar;
mod changes;
mod configuration;
mod exports;
mod guests;
mod handover;
mod life;
mod lists;
mod outbox;
mod photos;
mod plugin_trials;
mod plugin_uploads;
mod plugins;
mod product_ids;
mod product_lists;
mod protocols;
mod python;
mod quotes;
mod retries;
mod story;
mod watching;
mod web_root;
mod whole_job;
