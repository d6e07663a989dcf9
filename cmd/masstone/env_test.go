package main

import (
	"bytes"
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/color/remedy"
)

// TestAdviceInJSON: what a verb advises names this program's options in JSON as in
// text, and other texts stay what they are.
func TestAdviceInJSON(t *testing.T) {
	var out bytes.Buffer
	env := Env{Stdout: &out}
	plain := "a \"quoted\" \\ name <ü>"
	require.NoError(t, env.emit(map[string]string{"advice": "say " + remedy.InputAs("over", `a "b" c`), "plain": plain}))
	var got map[string]string
	require.NoError(t, json.Unmarshal(out.Bytes(), &got))
	require.Equal(t, plain, got["plain"])
	require.Equal(t, "say --over "+quoted(`a "b" c`), got["advice"])
}
