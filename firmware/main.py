"""Runs after boot.py: the loop, and outputs off whatever ends it.

A maintenance start ends here with outputs off, no loop and no watchdog, so that files can be changed.
Anything that stops the loop leaves the outputs off and the watchdog unfed; the board resets and begins
again from nothing.
"""


def main(here):
    """Run the loop on a board file until it ends; never returns except into maintenance."""
    board = None
    leave = 0
    try:
        here.outputs_off()
        if here.maintenance():
            return
        from oxlatch.let_go import let_go
        from oxlatch.rest_work import LEAVE_MAINTENANCE
        from oxlatch.startup import build

        board = here.Board()
        loop = build(board)
        del build
        let_go("startup")
        board.start_watchdog()
        leave = loop.run()
        here.outputs_off()
        here.restart(leave == LEAVE_MAINTENANCE)
    except KeyboardInterrupt:
        here.outputs_off()
        here.restart(True)
    except Exception as fault:
        here.outputs_off()
        if board:
            board.note_fault(repr(fault))
    finally:
        here.outputs_off()
    here.give_up()


if __name__ == "__main__":
    from boot import here

    main(here)
