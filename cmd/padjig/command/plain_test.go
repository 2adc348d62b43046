package command

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestErrorsOfFilesAreInPlainWords(t *testing.T) {
	dir := t.TempDir()
	for _, c := range []struct {
		err  error
		want string
	}{
		{fmt.Errorf("read it: %w", &fs.PathError{Op: "open", Path: "a.yaml", Err: syscall.ENOENT}), "read it: a.yaml: there is no such file or folder"},
		{&fs.PathError{Op: "read", Path: "b", Err: syscall.EISDIR}, "b: it is a folder, not a file"},
		{&fs.PathError{Op: "open", Path: "", Err: syscall.ENOENT}, "the name of a file is empty"},
		{fmt.Errorf("write: %w", &fs.PathError{Op: "write", Path: "/dev/stdout", Err: syscall.ENOSPC}), "write: /dev/stdout: the disk is full"},
		{&os.LinkError{Op: "rename", Old: "a", New: "b", Err: syscall.EROFS}, "b: the disk can only be read"},
		{fmt.Errorf("one\ntwo"), "one; two"},
	} {
		assert.Equal(t, c.want, Plain(c.err))
	}
	_, err := os.ReadFile(filepath.Join(dir, "gone"))
	assert.NotContains(t, Plain(err), "open ")
}

func TestErrorsShowWhatWasGivenHarmlessAndShort(t *testing.T) {
	assert.Equal(t, `unit x\x1b[2Jy\a`, Shown("unit x\x1b[2Jy\a"))
	assert.Equal(t, `unit nope\xff`, Shown("unit nope\xff"))
	assert.Equal(t, `a\u202eb\x00`, Shown("a\u202eb\x00"))
	assert.Equal(t, "GCC-000001-3, größer, 温室", Shown("GCC-000001-3, größer, 温室"))
	assert.Equal(t, "unit "+strings.Repeat("Ж", 40)+"... (5000 characters) was", Shown("unit "+strings.Repeat("Ж", 5000)+" was"))
	assert.Equal(t, `"`+strings.Repeat("a b ", 10)+`..." (2000 characters): no`, Shown(`"`+strings.Repeat("a b ", 500)+`": no`))
	flag := "🏳\ufe0f\u200d🌈"
	assert.Equal(t, strings.Repeat(flag, 40)+"... (200 characters)", Shown(strings.Repeat(flag, 200)), "cut between characters, not within one")
	accents := strings.Repeat("e\u0301", 100)
	assert.Equal(t, accents, Shown(accents), "a hundred characters, three hundred bytes")
}
