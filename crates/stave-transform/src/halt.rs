//! What ends a run midway.

use stave_rig::Misfit;

/// What ends a run: a move that does not fit, or the sink's own error.
#[derive(Debug)]
pub enum Halt<E> {
    /// The move does not fit.
    Misfit(Misfit),
    /// The sink refused.
    Sink(E),
}

impl<E> From<Misfit> for Halt<E> {
    fn from(misfit: Misfit) -> Self {
        Self::Misfit(misfit)
    }
}
