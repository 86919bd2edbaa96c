"""Dead tasks that run, and whether one is work on one way of a live board (W9)."""


def dead_tasks(run, s):
    for k, (start, who, _) in s.running.items():
        task = run.rec.tasks[k]
        if run.rec.is_dead(task):
            yield task, start, who


def one_way(run, s, task):
    """W9 work: the job names it for the board, one circuit, and the board is live at its ways.

    A board that is dead but not secured is no such case: W1 asks it to be secured.
    """
    pos, c = task["position"], task["circuit"]
    if pos is None or c is None or run.rec.positions[pos]["board"] is None:
        return False
    board = run.rec.boards[run.rec.positions[pos]["board"]]
    return (board["one_way"] is not None and pos == board["ways"]
            and any(run.any_live(s, n) for n in run.rec.bare(pos)))
