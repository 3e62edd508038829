//! x
pub mod data;
pub fn check(
    _: &crate::content::Guide,
    _: &crate::names::Names,
    _: &crate::content::Input,
) -> Vec<crate::diagnostic::Diagnostic> {
    Vec::new()
}
pub fn pages(
    _: &crate::content::Guide,
    _: &crate::names::Names,
    _: &crate::claims::Claims,
    _: &crate::reconcile::Reconciled,
    _: &crate::roles::Standings,
    _: &crate::content::Input,
    _: &(dyn Fn() + Sync),
) -> (Vec<(String, Vec<u8>)>, Vec<crate::diagnostic::Diagnostic>) {
    Default::default()
}
