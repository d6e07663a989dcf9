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
	case utf8.Valid(text):
		return text, ""
	}
	out, err := charmap.Windows1252.NewDecoder().Bytes(text)
	if err != nil {
		return bytes.ToValidUTF8(text, []byte("?")), ""
	}
	return out, "Windows-1252 text"
}
