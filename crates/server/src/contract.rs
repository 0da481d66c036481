//! The types of the contracts as the description of the API names them. Their schemas come from the
//! crates that own them (`openapi`); here each is a name that a route can point to.

use std::borrow::Cow;
use utoipa::openapi::{ObjectBuilder, RefOr, Schema};
use utoipa::{PartialSchema, ToSchema};

macro_rules! contracts {
    ($($name:ident = $type:ty),* $(,)?) => {
        $(
            /// A name for the description of the API.
            #[derive(Debug)]
            pub(crate) struct $name;
            impl PartialSchema for $name {
                fn schema() -> RefOr<Schema> {
                    ObjectBuilder::new().into()
                }
            }
            impl ToSchema for $name {
                fn name() -> Cow<'static, str> {
                    Cow::Borrowed(stringify!($name))
                }
            }
        )*
        /// Has the generator write the schema of every contract.
        #[cfg(feature = "schema")]
        pub(crate) fn generate(generator: &mut schemars::SchemaGenerator) {
            $(generator.subschema_for::<$type>();)*
        }
    };
}

contracts! {
    Ledger = ledger::Ledger,
    LedgerRow = ledger::LedgerRow,
    State = ledger::State,
    FileInfo = ledger::FileInfo,
    Ground = ledger::Ground,
    Role = ledger::Role,
    Reason = units::Reason,
    Band = units::Band,
    Strength = units::Strength,
    Zone = units::Zone,
    Head = survey::Head,
    Record = survey::Record,
    Capture = survey::Capture,
    Entry = survey::Entry,
    Overview = survey::Overview,
    Coverage = survey::Coverage,
    OnTimes = survey::OnTimes,
    BurstsHeard = survey::BurstsHeard,
    Preview = survey::Preview,
}
