package readings

import (
	"bytes"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

// decode brings text to UTF-8 without a byte-order mark, and says so when the
// file was written otherwise. Text that is not UTF-8 is taken for the
// single-byte Windows code page of western instruments: its degree sign and
// Greek mu are the usual reason.
func decode(text []byte) ([]byte, string) {
	switch {
	case bytes.HasPrefix(text, []byte{0xEF, 0xBB, 0xBF}):
		text = text[3:]
		if utf8.Valid(text) {
			return text, "UTF-8 with byte-order mark"
		}
	case bytes.HasPrefix(text, []byte{0xFF, 0xFE}), bytes.HasPrefix(text, []byte{0xFE, 0xFF}):
		if out, err := unicode.UTF16(unicode.LittleEndian, unicode.ExpectBOM).NewDecoder().Bytes(text); err == nil {
			return out, "UTF-16"
		}
	case halfZero(text, 1):
		if out, err := unicode.UTF16(unicode.LittleEndian, unicode.IgnoreBOM).NewDecoder().Bytes(text); err == nil {
			return out, "UTF-16"
		}
	case halfZero(text, 0):
		if out, err := unicode.UTF16(unicode.BigEndian, unicode.IgnoreBOM).NewDecoder().Bytes(text); err == nil {
			return out, "UTF-16"
		}
	case utf8.Valid(text):
		return text, ""
	}
	out, err := charmap.Windows1252.NewDecoder().Bytes(text)
	if err != nil {
		return bytes.ToValidUTF8(text, []byte("?")), ""
	}
	return out, "Windows-1252 text"
}

// halfZero tells whether text looks like UTF-16 without its mark: western text
// has a zero in every second byte, from the first (0) or the second (1) on.
func halfZero(text []byte, first int) bool {
	n := min(len(text), 1024) / 2
	if n < 8 {
		return false
	}
	zero, other := 0, 0
	for i := range n {
		if text[2*i+first] == 0 {
			zero++
		}
		if text[2*i+1-first] == 0 {
			other++
		}
	}
	return other == 0 && zero*10 >= n*9
}

// lines brings the line ends of old programs, a bare CR, to LF.
func lines(text []byte) []byte {
	if bytes.IndexByte(text, '\n') >= 0 {
		return text
	}
	return bytes.ReplaceAll(text, []byte{'\r'}, []byte{'\n'})
}
