package cell_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"masstone/color/cell"
)

// TestFormulas: what begins a formula in a spreadsheet, after "CSV Injection",
// owasp.org/www-community/attacks/CSV_Injection.
func TestFormulas(t *testing.T) {
	for text, want := range map[string]string{"": "", "RD-1": "RD-1", "-10.4": "-10.4", "+3": "+3", "-1e-3": "-1e-3", "=1+1": "'=1+1", "@sum(a1)": "'@sum(a1)",
		"-2+3": "'-2+3", "+cmd": "'+cmd", "'quoted": "'quoted", "-": "'-"} {
		assert.Equal(t, want, cell.Safe(text), text)
	}
}

// TestTextOfASafeCell: whatever the text, it comes back.
func TestTextOfASafeCell(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`[-=+@']{0,3}.*`).Draw(t, "text")
		if got := cell.Text(cell.Safe(text)); got != text {
			t.Fatalf("%q comes back as %q", text, got)
		}
	})
}
