"""From a bare board to a signed limit page: the test programme, its results, and what measurements say.

    step        what one test is made of
    programme   the ordered tests of one installation
    results     what was measured, kept with date and digest; which test may be done next
    decay       pressure decay, corrected for temperature, with its uncertainty
    trace       valve times out of a logged pressure trace
    logger      a data logger's CSV, read strictly
    static_run  one static engine run against its rules: go on, repeat, or go back
    memo        the highest clean step less the builder's derating
"""
