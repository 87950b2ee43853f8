//! Options of a command that are built only when that command is the one that was typed.

use clap::builder::Resettable;
use clap::error::Error;
use clap::{ArgMatches, Args, Command, FromArgMatches};
use std::ops::Deref;

/// Options that clap asks for when it needs them: the arguments of all commands together took half of a start's own time.
#[derive(Debug)]
pub(crate) struct Later<T>(Box<T>);

impl<T> Deref for Later<T> {
    type Target = T;

    fn deref(&self) -> &T {
        &self.0
    }
}

impl<T: FromArgMatches> FromArgMatches for Later<T> {
    fn from_arg_matches(matches: &ArgMatches) -> Result<Self, Error> {
        T::from_arg_matches(matches).map(|options| Later(Box::new(options)))
    }

    fn update_from_arg_matches(&mut self, matches: &ArgMatches) -> Result<(), Error> {
        self.0.update_from_arg_matches(matches)
    }
}

impl<T: Args> Args for Later<T> {
    fn augment_args(command: Command) -> Command {
        command.defer(|command| described(command, T::augment_args))
    }

    fn augment_args_for_update(command: Command) -> Command {
        command.defer(|command| described(command, T::augment_args_for_update))
    }
}

/// The command with its options added, and with the words that it had: options that are put together bring words of their own.
fn described(command: Command, augment: fn(Command) -> Command) -> Command {
    let (about, long_about) = (Resettable::from(command.get_about().cloned()), Resettable::from(command.get_long_about().cloned()));
    augment(command).about(about).long_about(long_about)
}

#[cfg(test)]
mod tests {
    use crate::cli::args::Args;
    use clap::CommandFactory;

    // Options that are put together set the words of whatever command they are added to.
    #[test]
    fn commands_keep_their_words_and_get_their_options() {
        let told = Args::command();
        let mut built = told.clone();
        built.build();
        for command in told.get_subcommands() {
            let later = built.find_subcommand(command.get_name()).expect("as it was told");
            assert_eq!(command.get_about().map(ToString::to_string), later.get_about().map(ToString::to_string), "{}", command.get_name());
        }
        let has = |command: &clap::Command| {
            command.find_subcommand("read").is_some_and(|read| read.get_arguments().any(|arg| arg.get_id() == "photos"))
        };
        assert!(!has(&told) && has(&built));
    }
}
