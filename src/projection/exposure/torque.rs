//! How often a run twisted a joint and let it go again.

use super::model::RunModel;

/// Starts of turning of a joint in a run: with each its torque rises from that of standing pipe to that of
/// turning pipe, and falls again.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TorqueCycles {
    /// At least so many: stretches of a log that follow one another closely are told as one, and what
    /// torque does while the pipe turns is not in it.
    pub at_least: i64,
    /// Largest torque at the surface of any stretch in which the joint turned, N·m, the mean of that
    /// stretch; `None` where no torque was logged.
    pub largest: Option<f64>,
}

impl RunModel {
    /// Torque cycles of a joint until an instant; `None` where no log tells when it turned, or nobody
    /// knows what hung where.
    pub fn torque_cycles(&self, joint: i64, until: i64) -> Option<TorqueCycles> {
        let line = self.lines().iter().find(|l| l.joint == joint)?;
        let case = self.case().filter(|_| self.is_timed())?;
        let mut found = TorqueCycles { at_least: 0, largest: None };
        let mut turns = false;
        for (phase, part) in case.phases.iter().zip(&line.parts) {
            let hung = part.and_then(|at| {
                let pin = phase.string.distances().get(at)?;
                Some(pin + 0.5 * phase.string.parts().get(at)?.length)
            });
            let Some(middle) = hung else {
                turns = false;
                continue;
            };
            let past = |(start, ms): (i64, i64)| self.row().start + start + ms <= until;
            for (_, _, s) in phase.segments.iter().filter(|(start, ms, _)| past((*start, *ms))) {
                if s.turns() <= 0.0 {
                    turns = false;
                    continue;
                }
                // Where it goes into the hole or out of it nobody knows whether it turned.
                if s.bit_from.min(s.bit_to) <= middle {
                    continue;
                }
                found.at_least += i64::from(!turns);
                turns = true;
                if let Some(torque) = s.torque {
                    found.largest =
                        Some(found.largest.map_or(torque, |most: f64| most.max(torque)));
                }
            }
        }
        Some(found)
    }
}
