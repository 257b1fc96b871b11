"""Find which registers of an undocumented Modbus device hold what a meter shows.

`sweep` reads what can be read, `views` tells in which ways a figure may lie there, `search` keeps
those that agree with every reading of a person's meter, `advice` says what to switch next and
why it cannot decide yet, `writing` turns the answer into a device description. Reads only: no
function that writes a register is ever sent.
"""
