package main

import (
	"bytes"
	"encoding/json"
	"os/exec"
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

// TestQuoted: a command that is printed means the same word when it is typed, by
// the shell itself.
func TestQuoted(t *testing.T) {
	sh, err := exec.LookPath("sh")
	if err != nil {
		t.Skip("no shell here")
	}
	for _, word := range []string{"WH=1,BK=0.2", "", "a b", `the "dark" one`, "$HOME", "`id`", `back\slash`, "it's", `it's $5 "net"`, "wow!", "a;b", "Łódź", "*"} {
		out, err := exec.Command(sh, "-c", "printf %s "+quoted(word)).Output()
		require.NoError(t, err, word)
		require.Equal(t, word, string(out))
	}
}

// TestNamed: a name in quotes shows what is not seen once, as tables do.
func TestNamed(t *testing.T) {
	require.Equal(t, `"lamp\u200b \"A\""`, named("lamp\u200b \"A\""))
}
