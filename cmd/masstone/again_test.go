package main

import (
	"context"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestSameOnceMore: without a person the same is refused with the remedy; a person
// is asked, and says no by saying nothing.
func TestSameOnceMore(t *testing.T) {
	env, stdout, stderr := testEnv(t)
	do := func(line string) int {
		stdout.Reset()
		stderr.Reset()
		return execute(context.Background(), env, strings.Fields(line))
	}
	require.Equal(t, exitDone, do("recipe add --resin CLR --phr WH=1"))
	require.Equal(t, exitDone, do("batch R1 --grams 100 --smallest=false"))
	require.Equal(t, exitDone, do("pour add B1"))
	require.Equal(t, exitFailed, do("pour add B1"))
	require.Regexp(t, `^P1 is such a pour, with the same content, \d+s ago; nothing was stored now: add --again if it is meant once more\n$`, stderr.String())
	require.Equal(t, exitDone, do("pour add B1 --again"))
	require.Contains(t, stdout.String(), "pour P2 of batch B1")
	env.Asks = true
	for answer, code := range map[string]int{"": exitFailed, "n": exitFailed, "y": exitDone} {
		env.Stdin = typing(answer)
		require.Equal(t, code, do("pour add B1"))
		require.Contains(t, stderr.String(), "once more? [y/N]: ")
	}
	require.Equal(t, exitDone, do("pour list --json"))
	require.Equal(t, 3, strings.Count(stdout.String(), `"pour": "P`))
}
