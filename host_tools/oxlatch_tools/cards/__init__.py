"""Cards and papers for cockpit, hangar and logbook, all from the one installation file.

`card` says what a card is made of, the modules named after their subject write them, `sheet` turns them into PDF and
`preview` the PDF into pictures.
"""
