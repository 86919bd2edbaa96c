//! Thin binary: all it does is pick the exit code.

fn main() -> std::process::ExitCode {
    wayover::cli::run()
}
