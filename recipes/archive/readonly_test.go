//go:build unix

package archive

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// asAnybody runs readAll in another process, which is not root's.
func asAnybody(t *testing.T, path string) string {
	t.Helper()
	self, err := os.Executable()
	require.NoError(t, err)
	cmd := exec.Command(self)
	if os.Getuid() == 0 { // root may write anything
		own := filepath.Join(filepath.Dir(path), "reader")
		copyFile(t, own, self)
		require.NoError(t, os.Chmod(own, 0o755))
		cmd = exec.Command(own)
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
	}
	cmd.Dir = "/"
	cmd.Env = append(os.Environ(), "MASSTONE_CHILD=read", "MASSTONE_BENCH="+path)
	out, _ := cmd.CombinedOutput()
	return strings.TrimSpace(string(out))
}

// readers is a folder with a bench that others may read, and may write if so.
func readers(t *testing.T, mode, folder os.FileMode) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "readers")
	require.NoError(t, err)
	path := filepath.Join(dir, "shop.db")
	b := fullBench(t)
	require.NoError(t, backup(t, b, path))
	again, err := Open(ctx(t), path, options()) // in write-ahead mode, as a bench is
	require.NoError(t, err)
	verified(t, again)
	require.NoError(t, again.Close())
	require.NoError(t, os.Chmod(path, mode))
	require.NoError(t, os.Chmod(dir, folder))
	t.Cleanup(func() { os.Chmod(dir, 0o700); os.RemoveAll(dir) })
	return path
}

func TestReadOnlyMedia(t *testing.T) {
	path := readers(t, 0o444, 0o555)
	said := asAnybody(t, path)
	assert.Regexp(t, `^read \d+; then: .*shop.db: cannot be written here; copy it to a folder that you can write to and work there$`, said)
	left, err := filepath.Glob(path + "-*")
	require.NoError(t, err)
	assert.Empty(t, left)

	// with changes in a log that nobody can take in
	shop, _ := crashed(t, 2)
	require.NoError(t, os.Chmod(filepath.Dir(path), 0o755))
	require.NoError(t, os.Remove(path))
	copyFile(t, path, shop)
	copyFile(t, path+"-wal", shop+"-wal")
	require.NoError(t, os.Chmod(path, 0o444))
	require.NoError(t, os.Chmod(path+"-wal", 0o444))
	require.NoError(t, os.Chmod(filepath.Dir(path), 0o555))
	assert.Contains(t, asAnybody(t, path), "copy both to a folder")

	// of an older program
	require.NoError(t, os.Chmod(filepath.Dir(path), 0o755))
	require.NoError(t, os.Remove(path+"-wal"))
	require.NoError(t, os.Remove(path))
	copyFile(t, path, filepath.Join("testdata", "archives", "schema5.db"))
	require.NoError(t, os.Chmod(path, 0o444))
	require.NoError(t, os.Chmod(filepath.Dir(path), 0o555))
	assert.Contains(t, asAnybody(t, path), "of an older program; copy it")

	// nobody may read it
	require.NoError(t, os.Chmod(path, 0o000))
	said = asAnybody(t, path)
	assert.Contains(t, said, "cannot be written")
	assert.Contains(t, said, "permissions")
}

// The file of shared memory of a killed program that is read-only is removed, or
// named where it cannot be.
func TestSharedMemoryLeftReadOnly(t *testing.T) {
	for _, folder := range []os.FileMode{0o777, 0o555} {
		path := readers(t, 0o666, 0o777)
		require.NoError(t, os.WriteFile(path+"-shm", make([]byte, 32768), 0o444))
		require.NoError(t, os.Chmod(filepath.Dir(path), folder))
		said := asAnybody(t, path)
		if folder == 0o777 { // nobody's hindrance
			assert.Regexp(t, `^read \d+; then: %!w\(<nil>\)$`, said, "it was opened to write")
			continue
		}
		assert.Contains(t, said, "shop.db-shm beside it is read-only; make it writable")
		assert.NotContains(t, said, "\n")
	}
}
