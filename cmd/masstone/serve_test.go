package main

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"crypto/tls"
	"encoding/json"
	"fmt"
	"image"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"
	"github.com/stretchr/testify/require"
)

// serving runs the serve command until the test stops it, and gives what it said.
func serving(t *testing.T, env *Env, args ...string) (v served, stop func() int) {
	t.Helper()
	out, in := io.Pipe()
	env.Stdout = in
	ctx, cancel := context.WithCancel(context.Background())
	code := make(chan int, 1)
	go func() {
		code <- execute(ctx, env, append([]string{"serve", "--json"}, args...))
		in.Close()
	}()
	stop = func() int { cancel(); c := <-code; code <- c; return c }
	t.Cleanup(func() { stop() })
	require.NoError(t, json.NewDecoder(bufio.NewReader(out)).Decode(&v))
	return v, stop
}

func TestServeOnThisMachine(t *testing.T) {
	env, _, stderr := testEnv(t)
	v, stop := serving(t, env, "--listen", "127.0.0.1:0")
	require.Regexp(t, `^http://127\.0\.0\.1:\d+/$`, v.Address)
	require.Empty(t, v.Passcode)
	require.Equal(t, "bench.db", filepath.Base(v.Bench))
	r, err := http.Get(v.Address + "shelf")
	require.NoError(t, err)
	page, err := io.ReadAll(r.Body)
	require.NoError(t, err)
	r.Body.Close()
	require.Equal(t, http.StatusOK, r.StatusCode)
	require.Contains(t, string(page), "kelp green")
	require.Equal(t, exitDone, stop(), stderr.String())
	_, err = http.Get(v.Address)
	require.Error(t, err, "it has stopped")
}

func TestServeElsewhere(t *testing.T) {
	env, _, _ := testEnv(t)
	home := t.TempDir()
	bench := filepath.Join(env.Dir, "bench.db")
	env.Getenv = func(name string) string {
		return map[string]string{"MASSTONE_BENCH": bench, "XDG_DATA_HOME": home}[name]
	}
	v, stop := serving(t, env, "--listen", "0.0.0.0:0", "--name", "bench.example")
	require.Regexp(t, `^https://`, v.Address)
	require.Regexp(t, `^[a-z2-7]{4}-[a-z2-7]{4}-[a-z2-7]{4}$`, v.Passcode)
	port := regexp.MustCompile(`:(\d+)/$`).FindStringSubmatch(v.Address)[1]
	site := "https://127.0.0.1:" + port
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	var shown string
	client := http.Client{Jar: jar, Transport: &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true, VerifyConnection: func(s tls.ConnectionState) error {
		shown = fmt.Sprintf("%X", sha256.Sum256(s.PeerCertificates[0].Raw))
		return s.PeerCertificates[0].VerifyHostname("bench.example")
	}}}}
	page := func(r *http.Response, err error) string {
		require.NoError(t, err)
		defer r.Body.Close()
		text, err := io.ReadAll(r.Body)
		require.NoError(t, err)
		return string(text)
	}
	require.NotContains(t, page(client.Get(site+"/shelf")), "kelp green")
	require.Equal(t, strings.ReplaceAll(v.Fingerprint, ":", ""), shown)
	key := regexp.MustCompile(`name="key" value="(\w+)"`).FindStringSubmatch(page(client.Get(site + "/enter?to=/shelf")))[1]
	require.Contains(t, page(client.PostForm(site+"/enter", url.Values{"who": {"Bo"}, "passcode": {v.Passcode}, "to": {"/shelf"}, "key": {key}})), "kelp green")
	at, err := url.Parse(site)
	require.NoError(t, err)
	require.Equal(t, "__Host-masstone", jar.Cookies(at)[0].Name)
	require.Equal(t, exitDone, stop())

	// the certificate is kept, for its owner alone, and is met again
	kept, err := os.Stat(filepath.Join(home, "masstone", "serve.pem"))
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o600), kept.Mode().Perm())
	again, stop := serving(t, env, "--listen", "0.0.0.0:0", "--name", "bench.example")
	require.Equal(t, v.Fingerprint, again.Fingerprint)
	require.NotEqual(t, v.Passcode, again.Passcode)
	stop()
	other, _ := serving(t, env, "--listen", "0.0.0.0:0", "--name", "other.example")
	require.NotEqual(t, v.Fingerprint, other.Fingerprint, "it is for another name")
}

func TestServeRefuses(t *testing.T) {
	taken, _, _ := testEnv(t)
	busy, _ := serving(t, taken, "--listen", "127.0.0.1:0")
	for _, c := range []struct {
		code int
		says string
		args []string
	}{
		{exitMisuse, "is no host:port", []string{"--listen", "8080"}},
		{exitMisuse, "is no host:port", []string{"--listen", "127.0.0.1"}},
		{exitMisuse, "one argument too many", []string{"8080"}},
		{exitMisuse, "give that with --cert", []string{"--key", "x.pem"}},
		{exitMisuse, "is no name of a host", []string{"--name", "http://bench/"}},
		{exitMisuse, "leave out --json", []string{"--qr", "--json"}},
		{exitMisuse, "MASSTONE_PASSCODE", []string{"--listen", ":0"}},
		{exitFailed, "cannot be used", []string{"--listen", strings.TrimSuffix(strings.TrimPrefix(busy.Address, "http://"), "/")}},
		{exitFailed, "cannot be used", []string{"--listen", "127.0.0.1:99999"}},
		{exitFailed, "cannot be used", []string{"--listen", "127.0.0.1:0", "--cert", "none.pem"}},
		{exitFailed, "no bench", []string{"--bench", "none.db"}},
	} {
		env, stdout, stderr := testEnv(t)
		get := env.Getenv
		env.Getenv = func(name string) string {
			if name == "MASSTONE_PASSCODE" {
				return "short"
			}
			return get(name)
		}
		require.Equal(t, c.code, execute(context.Background(), env, append([]string{"serve"}, c.args...)), "%v: %s", c.args, stderr.String())
		require.Equal(t, 1, strings.Count(stderr.String(), "\n"), "%v: %s", c.args, stderr.String())
		require.Contains(t, stderr.String(), c.says, c.args)
		require.Empty(t, stdout.String(), c.args)
	}
}

// What is drawn in the terminal is read by another program's reader of QR codes.
func TestDrawnCode(t *testing.T) {
	for _, text := range []string{"http://127.0.0.1:7357/", "https://[2001:db8::1234:5678:9abc:def0]:7357/"} {
		for _, color := range []bool{false, true} {
			drawn, err := drawnCode(text, color)
			require.NoError(t, err)
			drawn = strings.NewReplacer("\x1b[97;40m", "", "\x1b[0m", "").Replace(drawn)
			lines := strings.Split(strings.TrimSuffix(drawn, "\n"), "\n")
			width := len([]rune(lines[0]))
			const big = 4 // dots a module
			pic := image.NewGray(image.Rect(0, 0, big*width, 2*big*len(lines)))
			for y, line := range lines {
				for x, c := range []rune(line) {
					for dy := range 2 * big {
						if upper := dy < big; c == '█' || c == '▀' && upper || c == '▄' && !upper {
							for dx := range big {
								pic.Pix[(2*big*y+dy)*pic.Stride+big*x+dx] = 255
							}
						}
					}
				}
			}
			seen, err := gozxing.NewBinaryBitmapFromImage(pic)
			require.NoError(t, err)
			read, err := qrcode.NewQRCodeReader().Decode(seen, nil)
			require.NoError(t, err)
			require.Equal(t, text, read.GetText())
		}
	}
}

// The help of serve names the keys of its JSON, which no script can ask for since
// it does not end.
func TestServeKeys(t *testing.T) {
	text, err := encoded(served{Address: "x", Addresses: []string{"x"}, Bench: "x", Passcode: "x", Fingerprint: "x"})
	require.NoError(t, err)
	var v any
	require.NoError(t, json.NewDecoder(bytes.NewReader(text)).Decode(&v))
	unknown := map[string]bool{}
	root := newRootCommand(&Env{})
	cmd, _, err := root.Find([]string{"serve"})
	require.NoError(t, err)
	undocumented(v, "", wordsOf(keysHelp(root, cmd, 2)), unknown)
	require.Empty(t, unknown)
}
