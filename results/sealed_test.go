package results

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/runs/runstest"
	"padjig/results/store"
)

// looking and writing are parts to play by somebody without rights.
func looking(path string) error {
	s, err := OpenReadOnly(context.Background(), path)
	if err != nil {
		return err
	}
	defer s.Close()
	faults, err := s.Check(context.Background())
	runs, asked := s.Runs.Unit(context.Background(), "24-000001")
	return fmt.Errorf("faults %d, runs %d, %v %v", len(faults), len(runs), err, asked)
}

func writing(path string) error {
	s, err := Open(context.Background(), path)
	if err == nil {
		_, err = s.Runs.Save(context.Background(), runstest.Climate(), runstest.Passed("24-000002"))
	}
	return err
}

// Records that may not be written open for looking things up, with their log too where that can be read, and else
// say what to do; what writes is refused with its remedy.
func TestRecordsThatMayNotBeWritten(t *testing.T) {
	folder, err := os.MkdirTemp("", "sealed")
	require.NoError(t, err)
	t.Cleanup(func() {
		_ = os.Chmod(filepath.Join(folder, "r"), 0o755)
		_ = os.RemoveAll(folder)
	})
	require.NoError(t, os.Chmod(folder, 0o755))
	program := filepath.Join(folder, "program")
	content, err := os.ReadFile(os.Args[0])
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(program, content, 0o755))
	played := func(part, path string) string {
		cmd := exec.Command(program, path, "", "")
		cmd.Env, cmd.Dir = append(os.Environ(), partVariable+"="+part), folder
		if os.Geteuid() == 0 { // whom no rights stop
			cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
		}
		out, _ := cmd.CombinedOutput()
		return string(out)
	}
	inside := filepath.Join(folder, "r")
	require.NoError(t, os.Mkdir(inside, 0o755))
	path := filepath.Join(inside, "records.sqlite")
	s, err := OpenWith(t.Context(), path, testSeams())
	require.NoError(t, err)
	_, err = s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000001"))
	require.NoError(t, err)
	beside := filepath.Join(folder, "w")
	require.NoError(t, os.Mkdir(beside, 0o755))
	for _, end := range []string{"", "-wal"} { // as if copied while it was open
		content, err := os.ReadFile(path + end)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(beside, "records.sqlite"+end), content, 0o444))
	}
	require.NoError(t, s.Close())
	require.NoError(t, os.Chmod(path, 0o444))
	for _, dir := range []string{inside, beside} {
		require.NoError(t, os.Chmod(dir, 0o555))
	}
	assert.Contains(t, played("look", path), "faults 0, runs 1, <nil> <nil>")
	said := played("look", filepath.Join(beside, "records.sqlite"))
	assert.Contains(t, said, store.ErrLogBeside.Error())
	assert.Contains(t, said, "to a folder that can be written, and read them there")
	said = played("write", path)
	assert.Contains(t, said, store.ErrReadOnly.Error())
	assert.Contains(t, said, "give them the right to write it and its folder")
}
