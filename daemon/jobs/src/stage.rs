//! Where a job stands, and which moves there are.
//!
//! The order is the order of work: booked, received, assessed, approved, in
//! work, curing, ready, handed over. A job may be cancelled from any stage
//! before hand-over.

use std::fmt;

/// Where a job stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Stage {
    /// Agreed; the car is not here yet.
    Booked,
    /// The car is here.
    Received,
    /// Paint judged; it is known what can be done.
    Assessed,
    /// The customer has said yes to the work and its price.
    Approved,
    /// Hands are on it.
    InWork,
    /// Waiting for film or coatings.
    Curing,
    /// May leave.
    Ready,
    /// Has left. The end of a job.
    HandedOver,
    /// Called off. The other end of a job.
    Cancelled,
}

/// What kind of move takes a job from one stage to another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Move {
    /// On with the work; the gate of the new stage decides.
    Forward,
    /// Back, because something was found or must be done again; needs a note.
    Back,
    /// Called off; needs a note.
    Cancel,
}

impl Stage {
    /// Every stage, in the order of work.
    pub const ALL: [Self; 9] = [
        Self::Booked,
        Self::Received,
        Self::Assessed,
        Self::Approved,
        Self::InWork,
        Self::Curing,
        Self::Ready,
        Self::HandedOver,
        Self::Cancelled,
    ];

    /// The name that people read and type, for example `in-work`.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Booked => "booked",
            Self::Received => "received",
            Self::Assessed => "assessed",
            Self::Approved => "approved",
            Self::InWork => "in-work",
            Self::Curing => "curing",
            Self::Ready => "ready",
            Self::HandedOver => "handed-over",
            Self::Cancelled => "cancelled",
        }
    }

    /// The next stage in the order of work; none after the end of a job.
    pub const fn next(self) -> Option<Self> {
        match self {
            Self::Booked => Some(Self::Received),
            Self::Received => Some(Self::Assessed),
            Self::Assessed => Some(Self::Approved),
            Self::Approved => Some(Self::InWork),
            Self::InWork => Some(Self::Curing),
            Self::Curing => Some(Self::Ready),
            Self::Ready => Some(Self::HandedOver),
            Self::HandedOver | Self::Cancelled => None,
        }
    }

    /// Whether the job is over: handed over or cancelled.
    pub const fn is_closed(self) -> bool {
        matches!(self, Self::HandedOver | Self::Cancelled)
    }

    /// The kind of move from here to `to`, or none where there is no such move.
    ///
    /// Work that needs no cure may go from in work straight to ready. Going
    /// back from approved or in work to assessed means a new approval.
    pub const fn move_to(self, to: Self) -> Option<Move> {
        match (self, to) {
            (Self::Booked, Self::Received)
            | (Self::Received, Self::Assessed)
            | (Self::Assessed, Self::Approved)
            | (Self::Approved, Self::InWork)
            | (Self::InWork, Self::Curing | Self::Ready)
            | (Self::Curing, Self::Ready)
            | (Self::Ready, Self::HandedOver) => Some(Move::Forward),
            (Self::Received, Self::Booked)
            | (Self::Assessed, Self::Received)
            | (Self::Approved | Self::InWork, Self::Assessed)
            | (Self::Curing | Self::Ready, Self::InWork) => Some(Move::Back),
            (
                Self::Booked
                | Self::Received
                | Self::Assessed
                | Self::Approved
                | Self::InWork
                | Self::Curing
                | Self::Ready,
                Self::Cancelled,
            ) => Some(Move::Cancel),
            (
                Self::Booked
                | Self::Received
                | Self::Assessed
                | Self::Approved
                | Self::InWork
                | Self::Curing
                | Self::Ready
                | Self::HandedOver
                | Self::Cancelled,
                Self::Booked
                | Self::Received
                | Self::Assessed
                | Self::Approved
                | Self::InWork
                | Self::Curing
                | Self::Ready
                | Self::HandedOver
                | Self::Cancelled,
            ) => None,
        }
    }

    /// The stages that can be moved to from here.
    pub fn moves(self) -> impl Iterator<Item = Self> {
        Self::ALL
            .into_iter()
            .filter(move |to| self.move_to(*to).is_some())
    }
}

impl fmt::Display for Stage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.as_str())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_next_stage_is_always_a_forward_move() {
        for stage in Stage::ALL {
            if let Some(next) = stage.next() {
                assert_eq!(
                    stage.move_to(next),
                    Some(Move::Forward),
                    "{stage} -> {next}"
                );
            }
        }
    }

    #[test]
    fn cancelling_is_possible_from_every_stage_before_hand_over_and_only_there() {
        for stage in Stage::ALL {
            let expected = (!stage.is_closed()).then_some(Move::Cancel);
            assert_eq!(stage.move_to(Stage::Cancelled), expected, "{stage}");
        }
    }

    #[test]
    fn a_closed_job_moves_nowhere_and_no_stage_moves_to_itself() {
        assert_eq!(Stage::HandedOver.moves().count(), 0);
        assert_eq!(Stage::Cancelled.moves().count(), 0);
        for stage in Stage::ALL {
            assert_eq!(stage.move_to(stage), None, "{stage}");
        }
    }

    #[test]
    fn no_forward_move_passes_over_approval() {
        // Whatever path is taken, in-work is reached from approved, or from a
        // stage that comes after in-work.
        for from in Stage::ALL {
            if let Some(Move::Forward) = from.move_to(Stage::InWork) {
                assert_eq!(from, Stage::Approved);
            }
        }
    }
}
