package main

import (
	"crypto/rand"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"masstone/recipes/workbench"
)

// TestServeKilled: the real program is killed while four people store targets, as
// by a power cut. All that was acknowledged is on the bench, the rest is there
// whole or not at all, and the program opens the bench again without help.
func TestServeKilled(t *testing.T) {
	bench, err := readyBench()
	require.NoError(t, err)
	file := filepath.Join(t.TempDir(), "bench.db")
	require.NoError(t, os.WriteFile(file, bench, 0o644))
	acknowledged := map[string]bool{}
	sent := 0
	for range 3 {
		sent += storeAndKill(t, file, acknowledged)
	}
	b, err := workbench.Open(t.Context(), file, workbench.Options{Who: "ada", Program: "test"})
	require.NoError(t, err)
	defer b.Close()
	sound, err := workbench.Verify(t.Context(), b, workbench.VerifyRequest{})
	require.NoError(t, err)
	require.Empty(t, sound.Problems)
	list, err := workbench.Targets(t.Context(), b, "Tern Lighting")
	require.NoError(t, err)
	there := map[string]bool{}
	for _, target := range list.Targets {
		there[target.Name] = true
	}
	for name := range acknowledged {
		require.True(t, there[name], "%s was acknowledged and is lost", name)
	}
	require.LessOrEqual(t, len(there), sent)
	t.Logf("%d targets sent, %d acknowledged, %d on the bench", sent, len(acknowledged), len(there))
}

// storeAndKill serves a bench in a program of its own, to four people who store
// targets until some are acknowledged, and kills it amidst. It gives how many were
// sent.
func storeAndKill(t *testing.T, file string, acknowledged map[string]bool) (sent int) {
	program := exec.Command("program", "--bench", file, "serve", "--json", "--listen", "127.0.0.1:0")
	out, err := program.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, program.Start())
	defer program.Wait()
	defer program.Process.Kill()
	var at served
	require.NoError(t, json.NewDecoder(out).Decode(&at))

	var mu sync.Mutex
	var people sync.WaitGroup
	var tried atomic.Int64
	enough := make(chan struct{})
	here := 0
	for range 4 {
		people.Go(func() {
			client := &http.Client{Timeout: time.Minute, Transport: &http.Transport{}, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
			defer client.CloseIdleConnections()
			for {
				name := "part " + rand.Text()
				tried.Add(1)
				r, err := client.PostForm(at.Address+"target", url.Values{"name": {name}, "client": {"Tern Lighting"}, "lab": {"60,1,2"}, "illuminant": {"D65/10"}, "key": {rand.Text()}})
				if err != nil {
					return // it was killed
				}
				r.Body.Close()
				if r.StatusCode != http.StatusSeeOther {
					t.Error(fmt.Errorf("%s: %s", name, r.Status))
					return
				}
				mu.Lock()
				acknowledged[name] = true
				if here++; here == 25 {
					close(enough)
				}
				mu.Unlock()
			}
		})
	}
	all := make(chan struct{})
	go func() { people.Wait(); close(all) }()
	select {
	case <-enough:
	case <-all: // none of them could go on
	}
	require.NoError(t, program.Process.Kill())
	<-all
	return int(tried.Load())
}
