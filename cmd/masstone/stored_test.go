package main

import (
	"context"
	"errors"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// interruptedOnceStored is a context that is done as soon as the command stored
// anything.
type interruptedOnceStored struct {
	context.Context
	env *Env
}

func (c interruptedOnceStored) Done() <-chan struct{} {
	if c.Err() == nil {
		return nil
	}
	done := make(chan struct{})
	close(done)
	return done
}

func (c interruptedOnceStored) Err() error {
	if c.env.hasStored() {
		return context.Canceled
	}
	return nil
}

// fullDisk fails as a full disk does.
type fullDisk struct{}

func (fullDisk) Write([]byte) (int, error) { return 0, errors.New("no space left on device") }

// TestStoredAllTheSame: whatever ends a command after it stored something, it says
// what is on the bench; repeating it would store it twice.
func TestStoredAllTheSame(t *testing.T) {
	do := func(env *Env, line string) int { return execute(context.Background(), env, strings.Fields(line)) }
	t.Run("interrupted", func(t *testing.T) {
		env, _, stderr := testEnv(t)
		require.Equal(t, exitFailed, execute(interruptedOnceStored{context.Background(), env}, env, strings.Fields("fit CLR --layer kubelka-munk --evidence lab")))
		require.Equal(t, "interrupted; this was stored and stays, so do not repeat the command: calibration added CLR v2\n", stderr.String())
		require.Equal(t, exitDone, do(env, "predict CLR --phr WH=1 --calibration 2"))
	})
	t.Run("files", func(t *testing.T) {
		env, stdout, stderr := testEnv(t)
		for line, wrote := range map[string]string{
			"export --out shop.masstone":             "shop.masstone",
			"backup copy.db":                         "copy.db",
			"backup copy2.db --json":                 "copy2.db",
			"plan next CLR --count 1 --out plan.pdf": "plan.pdf",
		} {
			stderr.Reset()
			env.Stdout = fullDisk{}
			require.Equal(t, exitFailed, do(env, line), line)
			require.Regexp(t, "(this was written and is complete|; written and complete): .*"+regexp.QuoteMeta(wrote), stderr.String(), line)
			require.NotContains(t, stderr.String(), "nothing of this command was stored\n", line)
			env.Stdout = stdout
		}
		require.NoError(t, os.Rename(env.path("copy.db"), env.path("kept.db")))
		stderr.Reset()
		env.Stdout = fullDisk{}
		require.Equal(t, exitFailed, do(env, "restore kept.db"))
		require.Contains(t, stderr.String(), "from kept.db")
	})
	t.Run("full disk", func(t *testing.T) {
		env, stdout, stderr := testEnv(t)
		for _, line := range []string{"recipe add --resin CLR --phr WH=1", "batch R1 --grams 100 --smallest=false", "pour add B1 --json"} {
			stderr.Reset()
			env.Stdout = fullDisk{}
			require.Equal(t, exitFailed, do(env, line))
			require.Contains(t, stderr.String(), "the result cannot be written (no space left on device); make room or write it elsewhere; this was stored and stays, so do not repeat the command: ")
			env.Stdout = stdout
		}
		require.Contains(t, stderr.String(), "pour added P1\n")
		stderr.Reset()
		env.Stdout = fullDisk{}
		require.Equal(t, exitFailed, do(env, "pour list"))
		require.Contains(t, stderr.String(), "; nothing of this command was stored\n")
	})
}
