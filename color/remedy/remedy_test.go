package remedy_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"masstone/color/remedy"
)

// terminal words marks as a command line does.
type terminal struct{}

func (terminal) Input(name, value string) string { return strings.TrimSpace("--" + name + " " + value) }
func (terminal) Verb(words []string) string      { return "masstone " + strings.Join(words, " ") }

func ExampleWord() {
	text := fmt.Sprintf("no chip of CLR; %s, or say %s", remedy.Verb("chip import", "FILE", remedy.InputAs("resin", "CLR")), remedy.Input("over"))
	fmt.Println(remedy.Word(text, terminal{}))
	// Output: no chip of CLR; masstone chip import FILE --resin CLR, or say --over
}

// TestWordLeavesTheRest: what is no mark stays as it is, also half a mark that
// came in with a foreign name.
func TestWordLeavesTheRest(t *testing.T) {
	for _, text := range []string{"", "plain", "half ⟦a mark", "a mark⟧ ended", "⟦do ⟦x⟧"} {
		assert.Equal(t, text, remedy.Word(text, terminal{}))
	}
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`[^⟦⟧]*`).Draw(t, "text")
		if got := remedy.Word(text+remedy.Input("over")+text, terminal{}); got != text+"--over"+text {
			t.Fatalf("got %q", got)
		}
	})
}
