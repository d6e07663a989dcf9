//go:build unix

package main

import (
	"context"
	"io"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestWaitingForInput: a command that waits for its input hears an interrupt, and
// keeps nobody from the bench meanwhile.
func TestWaitingForInput(t *testing.T) {
	for name, line := range map[string]string{
		"import":      "import -",
		"chip import": "chip import - --resin CLR",
		"readings":    "reading check -",
		"a pipe":      "import pipe",
		"a pipe too":  "pour read P1 --file pipe",
	} {
		t.Run(name, func(t *testing.T) {
			env, _, stderr := testEnv(t)
			require.NoError(t, syscall.Mkfifo(env.path("pipe"), 0o600))
			reads := make(chan struct{})
			in, keyboard := io.Pipe()
			defer keyboard.Close()
			env.Stdin = heard{in, reads}
			if strings.Contains(line, "pipe") {
				close(reads)
			}
			other := *env
			other.Stdout, other.Stderr = io.Discard, io.Discard
			ctx, interrupt := context.WithCancel(context.Background())
			done := make(chan int)
			go func() { done <- execute(ctx, env, strings.Fields(line)) }()
			<-reads
			require.Equal(t, exitDone, execute(context.Background(), &other, strings.Fields("recipe add --resin CLR --phr WH=1")))
			interrupt()
			require.Equal(t, exitFailed, <-done)
			require.Equal(t, "interrupted; nothing of this command was stored\n", stderr.String())
		})
	}
}

// heard tells when the first byte is asked for.
type heard struct {
	io.Reader
	asked chan struct{}
}

func (h heard) Read(p []byte) (int, error) {
	close(h.asked)
	return h.Reader.Read(p)
}

// endless is more than any file.
type endless struct{}

func (endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = 'x'
	}
	return len(p), nil
}

// TestTooMuchInput is refused by its size, before the bench is opened.
func TestTooMuchInput(t *testing.T) {
	env, _, stderr := testEnv(t)
	env.Stdin = endless{}
	require.Equal(t, exitFailed, execute(context.Background(), env, []string{"chip", "import", "-", "--resin", "CLR"}))
	require.Equal(t, "standard input: is larger than 64 MB, the most that is read; check that it is the file you mean\n", stderr.String())
	stderr.Reset()
	require.NoError(t, os.WriteFile(env.path("large"), nil, 0o600))
	require.NoError(t, os.Truncate(env.path("large"), mostBundle+1))
	require.Equal(t, exitFailed, execute(context.Background(), env, []string{"import", "large"}))
	require.Contains(t, stderr.String(), "larger than 65536 MB")
	stderr.Reset()
	env.Stdin = strings.NewReader("66 -10 -3\n" + strings.Repeat("1", 1<<20))
	require.Equal(t, exitFailed, execute(context.Background(), env, strings.Fields("reading add target new --illuminant D65")))
	require.Contains(t, stderr.String(), "too long")
}

// What comes by a pipe has no name while it is kept, so that a program that is killed
// leaves nothing of it; what one left elsewhere is cleared away.
func TestPipedInputHasNoName(t *testing.T) {
	folder := t.TempDir()
	t.Setenv("TMPDIR", folder)
	left := filepath.Join(folder, ".masstone-00000000000000aa.part")
	require.NoError(t, os.WriteFile(left, []byte("half a bundle"), 0o600))
	env, _, _ := testEnv(t)
	env.Stdin = strings.NewReader("a whole bundle")
	f, size, done, err := env.large(t.Context(), "-", mostBundle)
	require.NoError(t, err)
	require.EqualValues(t, 14, size)
	files, err := os.ReadDir(folder)
	require.NoError(t, err)
	require.Empty(t, files)
	text, err := io.ReadAll(f)
	require.NoError(t, err)
	require.Equal(t, "a whole bundle", string(text))
	done()

	env.Stdin = endless{}
	_, _, _, err = env.large(t.Context(), "-", 1<<20)
	require.ErrorContains(t, err, "is larger than")
	files, err = os.ReadDir(folder)
	require.NoError(t, err)
	require.Empty(t, files)
}
