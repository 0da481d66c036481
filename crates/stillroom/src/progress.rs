//! A progress bar on a terminal for what takes longer than a second, and Ctrl-C.

use capture::one_line;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

static INTERRUPTED: AtomicBool = AtomicBool::new(false);
static ASKING: AtomicBool = AtomicBool::new(false);

/// The first Ctrl-C asks the work to stop at a safe place; the second leaves at once, and so does
/// the first while a question waits for its answer.
pub fn stop_on_interrupt() {
    // Fails only if a handler is there already; then that one serves.
    let _ = ctrlc::set_handler(|| {
        if INTERRUPTED.swap(true, Ordering::SeqCst) || ASKING.load(Ordering::SeqCst) {
            std::process::exit(130);
        }
    });
}

/// Waits for an answer. Nothing is under way meanwhile that a Ctrl-C could leave half done.
pub fn asking<T>(answer: impl FnOnce() -> T) -> T {
    ASKING.store(true, Ordering::SeqCst);
    let answered = answer();
    ASKING.store(false, Ordering::SeqCst);
    answered
}

/// Whether Ctrl-C was pressed.
pub fn interrupted() -> bool {
    INTERRUPTED.load(Ordering::SeqCst)
}

/// Progress of one command, on standard error, only if that is a terminal.
pub struct Bar {
    bar: ProgressBar,
    began: Instant,
    said: Mutex<String>,
    acknowledges: bool,
}

impl Bar {
    /// A bar that shows nothing during the first second.
    pub fn new() -> Self {
        let bar = ProgressBar::with_draw_target(Some(0), ProgressDrawTarget::hidden());
        if let Ok(style) = ProgressStyle::with_template("{msg} {wide_bar} {percent:>3}% {eta} left")
        {
            bar.set_style(style.progress_chars("=> "));
        }
        Bar { bar, began: Instant::now(), said: Mutex::new(String::new()), acknowledges: false }
    }

    /// The same, but what is stored is said at once: from then on it outlives this program.
    pub fn acknowledging(aloud: bool) -> Self {
        let mut bar = Bar::new();
        bar.acknowledges = aloud;
        bar
    }
}

impl Bar {
    /// Says a line at once, above the bar.
    pub fn say(&self, line: &str) {
        self.bar.suspend(|| anstream::eprintln!("{}", one_line(line)));
    }
}

impl survey::Progress for Bar {
    fn step(&self, done: u64, of: u64, what: &str) {
        // The survey tells an acknowledged capture, and files left out, as steps of these names.
        let told = ["stored: ", "not brought in: "].iter().any(|word| what.starts_with(word));
        if self.acknowledges && told {
            self.say(what);
        }
        if self.began.elapsed() < Duration::from_secs(1) {
            return;
        }
        if self.bar.is_hidden() {
            self.bar.set_draw_target(ProgressDrawTarget::stderr());
        }
        if let Ok(mut said) = self.said.lock()
            && *said != what
        {
            *said = what.to_owned();
            self.bar.set_message(one_line(&said));
        }
        self.bar.set_length(of);
        self.bar.set_position(done);
    }
    fn cancelled(&self) -> bool {
        interrupted()
    }
}

impl Drop for Bar {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}
