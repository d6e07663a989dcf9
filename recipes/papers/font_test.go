package papers

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/image/font/sfnt"
)

// The notice of the fonts that are part of the program: what each says of
// itself in its name table stands in it, and the licence in full.
func TestFontNotice(t *testing.T) {
	text, err := os.ReadFile("font/OFL.txt")
	require.NoError(t, err)
	notice := strings.Join(strings.Fields(string(text)), " ")
	fonts, err := parsed()
	require.NoError(t, err)
	for _, f := range fonts {
		copyright, err := f.Name(nil, sfnt.NameIDCopyright)
		require.NoError(t, err)
		for line := range strings.Lines(copyright) {
			assert.Contains(t, notice, strings.TrimSuffix(strings.TrimSpace(line), "."))
		}
		license, err := f.Name(nil, sfnt.NameIDLicense)
		require.NoError(t, err)
		assert.Equal(t, "Licensed under the SIL Open Font License, Version 1.1", license)
	}
	for _, part := range []string{"SIL OPEN FONT LICENSE Version 1.1 - 26 February 2007", "Reserved Font Name Liberation", "PERMISSION & CONDITIONS",
		"each copy contains the above copyright notice and this license", "TERMINATION", "OTHER DEALINGS IN THE FONT SOFTWARE."} {
		assert.Contains(t, notice, part)
	}
}
