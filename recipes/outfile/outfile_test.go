//go:build unix

package outfile_test

import (
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/recipes/outfile"
)

func text(s string) func(io.Writer) error {
	return func(w io.Writer) error { _, err := io.WriteString(w, s); return err }
}

func put(t *testing.T, path, content string) {
	t.Helper()
	require.NoError(t, os.WriteFile(path, []byte(content), 0o644))
}

func holds(t *testing.T, path, content string) {
	t.Helper()
	got, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, content, string(got))
}

// names are those of the files in a folder.
func names(t *testing.T, folder string) []string {
	t.Helper()
	entries, err := os.ReadDir(folder)
	require.NoError(t, err)
	all := []string{}
	for _, e := range entries {
		all = append(all, e.Name())
	}
	return all
}

// How files of SQLite begin stands in its file format: sqlite.org/fileformat2.html,
// 1.3.1 (database), 4.1 (log), 3 (journal).
const (
	database = "SQLite format 3\x00 and more"
	wal      = "\x37\x7f\x06\x82 and more"
	journal  = "\xd9\xd5\x05\xf9\x20\xa1\x63\xd7 and more"
	terns    = `{"bundle":"masstone","version":1,"holds":"client Tern Lighting","at":"2026-03-31T12:00:00.000Z"}` + "\n"
)

// TestWhatStays is never written over, whatever is asked, and stays as it is.
func TestWhatStays(t *testing.T) {
	for name, c := range map[string]struct {
		was   string
		holds string
		says  string
	}{
		"a bench":                {database, "", "is a bench"},
		"its log":                {wal, "", "belongs to a bench"},
		"its journal":            {journal, "", "belongs to a bench"},
		"a bundle by a table":    {terns, "", `a bundle that holds "client Tern Lighting"`},
		"a bundle by another":    {terns, "client Pier", `a bundle that holds "client Tern Lighting"`},
		"a bundle that is cut":   {terns[:40], "client Tern Lighting", "a bundle"},
		"a bench under a bundle": {database, "client Pier", "is a bench"},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			path := filepath.Join(dir, "out")
			put(t, path, c.was)
			link := filepath.Join(dir, "link")
			require.NoError(t, os.Symlink("out", link))
			for _, at := range []string{path, link} {
				f := outfile.File{Path: at, Name: "out", Over: true, Holds: c.holds}
				for _, err := range []error{f.Check(), f.Write(text("new"))} {
					require.ErrorIs(t, err, outfile.ErrStays)
					assert.ErrorContains(t, err, c.says)
					assert.True(t, strings.HasPrefix(err.Error(), "out: "), err)
				}
			}
			holds(t, path, c.was)
			assert.Equal(t, []string{"link", "out"}, names(t, dir))
		})
	}
}

// TestNoPlainFile: pipes, devices and folders are no files to write to, and are not
// waited for.
func TestNoPlainFile(t *testing.T) {
	dir := t.TempDir()
	fifo := filepath.Join(dir, "fifo")
	require.NoError(t, syscall.Mkfifo(fifo, 0o600))
	for path, says := range map[string]string{fifo: "no plain file", os.DevNull: "no plain file", dir: "is a folder", "": "is empty",
		filepath.Join(dir, "none", "x"): "no such file", filepath.Join(fifo, "x"): "lies in no folder"} {
		err := outfile.File{Path: path, Over: true}.Write(text("new"))
		require.ErrorContains(t, err, says)
		assert.NotContains(t, err.Error(), ".part")
	}
	put(t, filepath.Join(dir, "shop.db"), database)
	for _, end := range []string{"-wal", "-shm", "-journal"} {
		require.ErrorContains(t, outfile.File{Path: filepath.Join(dir, "shop.db") + end}.Write(text("new")), "belongs to the bench shop.db")
		require.NoError(t, outfile.File{Path: filepath.Join(dir, "notes") + end}.Write(text("new")))
	}
	fixed := filepath.Join(dir, "fixed")
	require.NoError(t, os.WriteFile(fixed, nil, 0o400))
	require.ErrorContains(t, outfile.File{Path: fixed, Over: true}.Write(text("new")), "read-only")
}

// TestOver: a file is written over only when that is asked; a link stays a link;
// what cannot be filled leaves all as it was.
func TestOver(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "sheet.csv")
	require.NoError(t, outfile.File{Path: path}.Write(text("one")))
	for _, err := range []error{outfile.File{Path: path}.Check(), outfile.File{Path: path}.Write(text("two"))} {
		require.ErrorIs(t, err, outfile.ErrExists)
	}
	holds(t, path, "one")
	fault := errors.New("a fault")
	require.ErrorIs(t, outfile.File{Path: path, Over: true}.Write(func(w io.Writer) error { io.WriteString(w, "half"); return fault }), fault)
	holds(t, path, "one")
	require.NoError(t, outfile.File{Path: path, Over: true}.Write(text("two")))
	holds(t, path, "two")

	other := t.TempDir()
	link, dangling := filepath.Join(other, "link"), filepath.Join(other, "dangling")
	require.NoError(t, os.Symlink(path, link))
	require.NoError(t, os.Symlink(filepath.Join(dir, "new.csv"), dangling))
	require.ErrorIs(t, outfile.File{Path: link}.Write(text("three")), outfile.ErrExists)
	require.NoError(t, outfile.File{Path: link, Over: true}.Write(text("three")))
	require.NoError(t, outfile.File{Path: dangling}.Write(text("four")))
	holds(t, path, "three")
	holds(t, filepath.Join(dir, "new.csv"), "four")
	assert.Equal(t, []string{"new.csv", "sheet.csv"}, names(t, dir))
	assert.Equal(t, []string{"dangling", "link"}, names(t, other))
	circle := filepath.Join(other, "circle")
	require.NoError(t, os.Symlink("circle", circle))
	require.ErrorContains(t, outfile.File{Path: circle, Over: true}.Write(text("five")), "circle")

	bundle := filepath.Join(dir, "tern.masstone")
	require.NoError(t, outfile.File{Path: bundle, Holds: "client Tern Lighting"}.Write(text(terns)))
	require.NoError(t, outfile.File{Path: bundle, Over: true, Holds: "client Tern Lighting"}.Write(text(terns+"more")))
	holds(t, bundle, terns+"more")
}

// TestCameMeanwhile: a file that comes while another is made for its name stays.
func TestCameMeanwhile(t *testing.T) {
	for name, c := range map[string]struct {
		over bool
		came string
	}{"not to be written over": {false, "theirs"}, "a bench": {true, database}} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "out")
			require.Error(t, outfile.File{Path: path, Over: c.over}.Write(func(io.Writer) error { put(t, path, c.came); return nil }))
			holds(t, path, c.came)
		})
	}
}

// TestPermissions: clients' data are for the owner alone, the rest as the umask
// says; what is written over keeps what it had, unless that is too much.
func TestPermissions(t *testing.T) {
	defer syscall.Umask(syscall.Umask(0o027))
	dir := t.TempDir()
	for name, c := range map[string]struct {
		owner     bool
		was, want os.FileMode
	}{
		"clients":      {true, 0, 0o600},
		"any":          {false, 0, 0o640},
		"clients over": {true, 0o644, 0o600},
		"any over":     {false, 0o660, 0o660},
	} {
		path := filepath.Join(dir, name)
		if c.was != 0 {
			put(t, path, "was")
			require.NoError(t, os.Chmod(path, c.was))
		}
		require.NoError(t, outfile.File{Path: path, Over: true, Owner: c.owner}.Write(text("new")))
		info, err := os.Stat(path)
		require.NoError(t, err)
		assert.Equal(t, c.want, info.Mode().Perm(), name)
	}
}

// TestFullDisk: what does not fit leaves all as it was. A limit on the size of
// files stands for the disk (setrlimit(2), EFBIG).
func TestFullDisk(t *testing.T) {
	if os.Getenv("OUTFILE_FULL") != "" {
		require.NoError(t, syscall.Setrlimit(syscall.RLIMIT_FSIZE, &syscall.Rlimit{Cur: 1000, Max: 1000}))
		err := outfile.File{Path: os.Getenv("OUTFILE_FULL"), Over: true}.Write(text(strings.Repeat("x", 1<<16)))
		require.ErrorContains(t, err, "cannot be written (file too large)")
		require.NotContains(t, err.Error(), ".part")
		return
	}
	path := filepath.Join(t.TempDir(), "out")
	put(t, path, "was")
	run := exec.Command(os.Args[0], "-test.run=TestFullDisk")
	run.Env = append(os.Environ(), "OUTFILE_FULL="+path)
	out, err := run.CombinedOutput()
	require.NoError(t, err, "%s", out)
	holds(t, path, "was")
	assert.Equal(t, []string{"out"}, names(t, filepath.Dir(path)))
}

// TestKilled: what a killed program left is cleared by the next file; what a
// running one is filling is not, and what is not ours stays.
func TestKilled(t *testing.T) {
	if path := os.Getenv("OUTFILE_HANGS"); path != "" {
		outfile.File{Path: path}.Write(func(w io.Writer) error {
			io.WriteString(w, strings.Repeat("x", 1<<16))
			time.Sleep(time.Hour)
			return nil
		})
		return
	}
	dir := t.TempDir()
	path := filepath.Join(dir, "out")
	put(t, filepath.Join(dir, ".masstone-notes"), "theirs")
	run := exec.Command(os.Args[0], "-test.run=TestKilled")
	run.Env = append(os.Environ(), "OUTFILE_HANGS="+path)
	require.NoError(t, run.Start())
	defer run.Process.Kill()
	require.Eventually(t, func() bool {
		parts, err := filepath.Glob(filepath.Join(dir, ".masstone-*.part"))
		require.NoError(t, err)
		if len(parts) == 0 {
			return false
		}
		info, err := os.Stat(parts[0])
		return err == nil && info.Size() > 0
	}, 20*time.Minute, time.Millisecond) // ends what hangs
	require.NoError(t, outfile.File{Path: path + "1"}.Write(func(w io.Writer) error {
		return outfile.File{Path: path + "2"}.Write(text("two")) // this program's own part is not cleared either
	}))
	assert.Len(t, names(t, dir), 4)
	require.NoError(t, run.Process.Kill())
	run.Wait()
	assert.Len(t, names(t, dir), 4)
	require.NoError(t, outfile.File{Path: path}.Write(text("new")))
	assert.Equal(t, []string{".masstone-notes", "out", "out1", "out2"}, names(t, dir))
}

// TestPart: what SQLite keeps beside a part goes with it, once nobody holds the part.
func TestPart(t *testing.T) {
	dir := t.TempDir()
	held, drop, err := outfile.Part(dir)
	require.NoError(t, err)
	left := filepath.Join(dir, ".masstone-0123456789abcdef.part")
	for _, path := range []string{held + "-wal", left, left + "-wal", left + "-shm"} {
		put(t, path, "pages")
	}
	require.NoError(t, outfile.File{Path: filepath.Join(dir, "out")}.Write(text("new")))
	assert.Equal(t, []string{filepath.Base(held), filepath.Base(held) + "-wal", "out"}, names(t, dir))
	drop()
	require.NoError(t, outfile.File{Path: filepath.Join(dir, "more")}.Write(text("new")))
	assert.Equal(t, []string{"more", "out"}, names(t, dir))
}

// TestWriteTo fills a file by its name.
func TestWriteTo(t *testing.T) {
	path := filepath.Join(t.TempDir(), "copy.db")
	require.NoError(t, outfile.File{Path: path, Owner: true}.WriteTo(func(part string) error {
		assert.Equal(t, filepath.Dir(path), filepath.Dir(part))
		return os.WriteFile(part, []byte("all"), 0o644)
	}))
	holds(t, path, "all")
	info, err := os.Stat(path)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	assert.Equal(t, []string{"copy.db"}, names(t, filepath.Dir(path)))
}
