"""Consistent overhead byte stuffing: frames without a zero byte, closed by one.

After S. Cheshire and M. Baker, "Consistent Overhead Byte Stuffing", IEEE/ACM Transactions on Networking
7(2), 1999. Both directions work in slices on buffers made at start-up, so a frame can be spread over
many ticks and nothing is allocated.
"""

DELIMITER = 0


class Encoder:
    """Builds one wire frame in `wire`; `length` counts its bytes.

    A delimiter also goes first, so that whatever was on the line before, text or a frame cut short, ends there.
    """

    def __init__(self, room):
        """`room` is the longest frame to be encoded, in bytes."""
        self.wire = bytearray(room + room // 254 + 3)
        self.length = 0
        self._code_at = 1
        self._code = 1

    def begin(self):
        """Start a new frame."""
        self.wire[0] = DELIMITER
        self.length = 2
        self._code_at = 1
        self._code = 1

    def take(self, source, start, end):
        """Encode source[start:end]. The caller keeps a frame within `room`."""
        wire = self.wire
        at = self.length
        code_at = self._code_at
        code = self._code
        for i in range(start, end):
            if code == 255:
                wire[code_at] = 255
                code_at = at
                at += 1
                code = 1
            byte = source[i]
            if byte:
                wire[at] = byte
                at += 1
                code += 1
            else:
                wire[code_at] = code
                code_at = at
                at += 1
                code = 1
        self.length = at
        self._code_at = code_at
        self._code = code

    def finish(self):
        """Close the frame with its delimiter; wire[0:length] is then ready to be sent."""
        self.wire[self._code_at] = self._code
        self.wire[self.length] = DELIMITER
        self.length += 1


MORE = 0
COMPLETE = 1
BROKEN = 2


class Decoder:
    """Takes wire bytes as they come; `frame[0:length]` holds what is decoded so far.

    `state` is COMPLETE or BROKEN in the call that took a delimiter, else MORE. The next call starts the
    next frame. A run of delimiters is no frame.
    """

    def __init__(self, room):
        """`room` is the longest frame accepted, in bytes; a longer one is broken."""
        self.frame = bytearray(room)
        self.length = 0
        self.state = MORE
        self._left = 0  # data bytes still to come in the present block
        self._owed = 0  # 1: a zero goes before the next block
        self._spoilt = 0
        self._begun = 0

    def reset(self):
        """Forget a frame half taken in."""
        self.length = 0
        self.state = MORE
        self._left = 0
        self._owed = 0
        self._spoilt = 0
        self._begun = 0

    def take(self, wire, start, end):
        """Decode wire[start:end] up to and including the first delimiter; return the index after it."""
        if self.state != MORE:
            self.reset()
        frame = self.frame
        room = len(frame)
        length = self.length
        left = self._left
        owed = self._owed
        at = start
        while at < end:
            byte = wire[at]
            at += 1
            if byte == 0:
                if self._begun:
                    self.state = BROKEN if left or self._spoilt else COMPLETE
                    break
                continue
            self._begun = 1
            if left == 0:
                if owed:
                    if length < room:
                        frame[length] = 0
                        length += 1
                    else:
                        self._spoilt = 1
                left = byte - 1
                owed = 1 if byte < 255 else 0
            else:
                left -= 1
                if length < room:
                    frame[length] = byte
                    length += 1
                else:
                    self._spoilt = 1
        self.length = length
        self._left = left
        self._owed = owed
        return at
