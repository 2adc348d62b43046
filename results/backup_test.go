package results

import (
	"context"
	"database/sql"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/backup"
	"padjig/results/runs/runstest"
	"padjig/results/store"
)

// kept are records with runs and a photo.
func kept(t *testing.T) *Store {
	t.Helper()
	s, err := OpenWith(t.Context(), filepath.Join(t.TempDir(), "padjig.db"), testSeams())
	require.NoError(t, err)
	t.Cleanup(func() { s.Close() })
	returned(t, s)
	return s
}

func take(t *testing.T, s *Store, folder string, full bool) backup.Taken {
	t.Helper()
	taken, err := s.TakeBackup(t.Context(), backup.Order{Folder: folder}, full)
	require.NoError(t, err)
	return taken
}

func unconcerned(float64) {}

// A backup is whole, says what it is of, can be read as it lies there, shares its photos with the one before, and
// becomes records with which testing goes on.
func TestBackupAndRestore(t *testing.T) {
	s, folder, ctx := kept(t), t.TempDir(), t.Context()
	first := take(t, s, folder, true)
	assert.Equal(t, backup.Full, first.Checked)
	assert.Len(t, first.Files, 2, "records and photo")
	assert.Empty(t, first.Lacking)
	assert.True(t, first.SameDisk)
	_, err := s.Runs.Save(ctx, runstest.Climate(), runstest.Passed("24-000777"))
	require.NoError(t, err)
	second := take(t, s, folder, false)
	assert.Equal(t, backup.Quick, second.Checked)
	assert.Equal(t, first.Runs+1, second.Runs)
	assert.Equal(t, 1, second.Linked)
	all, err := backup.List(folder)
	require.NoError(t, err)
	require.Len(t, all, 2)
	assert.Equal(t, second.Path, all[1].Path)
	whole, failed, err := s.Backups.Newest(ctx)
	require.NoError(t, err)
	assert.Nil(t, failed)
	assert.Equal(t, filepath.Base(second.Path), whole.Name)

	archive, err := OpenReadOnly(ctx, filepath.Join(second.Path, store.BackupName))
	require.NoError(t, err)
	faults, err := archive.Check(ctx)
	require.NoError(t, err)
	assert.Empty(t, faults)
	require.NoError(t, archive.Close())
	_, err = Open(ctx, filepath.Join(second.Path, store.BackupName))
	assert.ErrorIs(t, err, store.ErrReadOnly, "nobody tests units into a backup")
	require.NoError(t, second.Verify(ctx, second.Path, unconcerned), "it is as it was")

	to := filepath.Join(t.TempDir(), "records.sqlite")
	done, err := Restore(ctx, backup.Recovery{Backup: first.Path, To: to})
	require.NoError(t, err)
	assert.Empty(t, done.Aside)
	again := openChecked(t, to, testSeams())
	_, err = again.Runs.Save(ctx, runstest.Climate(), runstest.Passed("24-000778"))
	require.NoError(t, err)
	deeds, err := store.Collect(ctx, raw(again), store.ScanText, `SELECT deed || ' ' || name FROM backup`)
	require.NoError(t, err)
	assert.Equal(t, []string{"restore " + filepath.Base(first.Path)}, deeds)
	photos, err := filepath.Glob(to + ".photos/??/*")
	require.NoError(t, err)
	assert.Len(t, photos, 1)
}

// A photo that is shared and was damaged is taken from the records again; one that the records lack is named.
func TestBackupOfPhotos(t *testing.T) {
	s, folder := kept(t), t.TempDir()
	first := take(t, s, folder, false)
	inBackup, err := filepath.Glob(filepath.Join(first.Path, store.BackupName+".photos/??/*"))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(inBackup[0], []byte("damaged"), 0o644))
	assert.ErrorIs(t, first.Verify(t.Context(), first.Path, unconcerned), backup.ErrDamaged)
	second := take(t, s, folder, false)
	assert.Zero(t, second.Linked)
	require.NoError(t, second.Verify(t.Context(), second.Path, unconcerned))
	require.NoError(t, os.RemoveAll(s.Path()+".photos"))
	_, err = s.TakeBackup(t.Context(), backup.Order{Folder: t.TempDir()}, false)
	require.NoError(t, err)
	all, err := filepath.Glob(filepath.Join(t.TempDir(), "*"))
	require.NoError(t, err)
	assert.Empty(t, all)
	third := take(t, s, t.TempDir(), false)
	assert.Len(t, third.Lacking, 1)
	assert.Len(t, third.Files, 1)
}

// Runs are stored while backups are taken; each backup is sound and is of one moment.
func TestBackupWhileRunsAreStored(t *testing.T) {
	s, folder, ctx := kept(t), t.TempDir(), t.Context()
	var stored atomic.Int64
	stop, over := make(chan struct{}), make(chan error, 1)
	go func() {
		for n := 1; ; n++ {
			select {
			case <-stop:
				over <- nil
				return
			default:
			}
			if _, err := s.Runs.Save(ctx, runstest.Climate(), runstest.Passed(fmt.Sprintf("25-%06d", n))); err != nil {
				over <- err
				return
			}
			stored.Add(1)
		}
	}()
	for range 3 {
		before := stored.Load()
		taken := take(t, s, folder, true)
		assert.GreaterOrEqual(t, taken.Runs, before)
	}
	close(stop)
	require.NoError(t, <-over)
}

// Nothing is written where it would be lost with the records, or over what others have there.
func TestBackupDestinations(t *testing.T) {
	s, ctx := kept(t), t.Context()
	below := filepath.Join(filepath.Dir(s.Path()), "backups")
	require.NoError(t, os.Mkdir(below, 0o755))
	link := filepath.Join(t.TempDir(), "link")
	require.NoError(t, os.Symlink(below, link))
	file := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(file, nil, 0o644))
	taken := take(t, s, t.TempDir(), false)
	for name, c := range map[string]struct{ folder, want string }{
		"the records' own": {filepath.Dir(s.Path()), "lost with them"},
		"below":            {below, "lost with them"},
		"a link to it":     {link, "lost with them"},
		"a disk not there": {filepath.Join(t.TempDir(), "usb"), "connect its disk"},
		"a file":           {file, "is no folder"},
		"another backup":   {taken.Path, "is a backup itself"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := s.TakeBackup(ctx, backup.Order{Folder: c.folder}, false)
			require.ErrorIs(t, err, backup.ErrDestination)
			assert.ErrorContains(t, err, c.want)
			_, failed, err := s.Backups.Newest(ctx)
			require.NoError(t, err)
			require.NotNil(t, failed)
			assert.Contains(t, failed.Why, c.want)
		})
	}
	with := testSeams()
	with.Free = func(string) (uint64, error) { return 1 << 20, nil }
	full := filepath.Join(t.TempDir(), "padjig.db")
	poor, err := OpenWith(ctx, full, with)
	require.NoError(t, err)
	defer poor.Close()
	folder := t.TempDir()
	_, err = poor.TakeBackup(ctx, backup.Order{Folder: folder}, false)
	assert.ErrorIs(t, err, store.ErrNoRoom)
	left, err := os.ReadDir(folder)
	require.NoError(t, err)
	assert.Empty(t, left)
}

// A second backup to the same folder is refused while the first is written.
func TestBackupTwiceAtOnce(t *testing.T) {
	s, folder := kept(t), t.TempDir()
	var second error
	_, err := s.TakeBackup(t.Context(), backup.Order{Folder: folder, Told: func(step backup.Step, _ float64) {
		if step == backup.Copied {
			_, second = s.TakeBackup(t.Context(), backup.Order{Folder: folder}, false)
		}
	}}, false)
	require.NoError(t, err)
	assert.ErrorIs(t, second, backup.ErrTwice)
}

// A backup that is given up, as at the end of a station, leaves nothing and is no failure.
func TestBackupGivenUp(t *testing.T) {
	s, folder := kept(t), t.TempDir()
	ctx, giveUp := context.WithCancel(t.Context())
	_, err := s.TakeBackup(ctx, backup.Order{Folder: folder, Scheduled: true, Told: func(backup.Step, float64) { giveUp() }}, false)
	require.ErrorIs(t, err, context.Canceled)
	left, err := os.ReadDir(folder)
	require.NoError(t, err)
	assert.Empty(t, left)
	_, failed, err := s.Backups.Newest(t.Context())
	require.NoError(t, err)
	assert.Nil(t, failed)
}

// Only whole backups of these very records are removed, the oldest first, and none in which somebody keeps something.
func TestBackupPrunesItsOwn(t *testing.T) {
	s, other, folder := kept(t), kept(t), t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(folder, "letter.txt"), []byte("mine"), 0o644))
	require.NoError(t, os.Mkdir(filepath.Join(folder, "padjig-2020-01-01T000000Z"), 0o755))
	foreign := take(t, other, folder, false)
	first, second, third := take(t, s, folder, false), take(t, s, folder, false), take(t, s, folder, false)
	require.NoError(t, os.WriteFile(filepath.Join(first.Path, "note.txt"), []byte("of the audit"), 0o644))
	renamed := filepath.Join(folder, "keep for ever")
	require.NoError(t, os.Rename(third.Path, renamed))
	taken, err := s.TakeBackup(t.Context(), backup.Order{Folder: folder, Keep: 1}, false)
	require.NoError(t, err)
	assert.Equal(t, []string{second.Path}, taken.Pruned)
	require.Len(t, taken.Left, 1)
	assert.ErrorContains(t, taken.Left[0], "note.txt, which is no part of the backup")
	for _, path := range []string{first.Path, taken.Path, foreign.Path, renamed, filepath.Join(folder, "letter.txt"),
		filepath.Join(folder, "padjig-2020-01-01T000000Z")} {
		_, err := os.Stat(path)
		assert.NoError(t, err, path)
	}
}

// cutShort are parts to play by another process. Those of a backup and a restore end with a signal that cannot be
// caught, when so many steps were told.
var cutShort = map[string]func(of, to, steps string) error{
	"backup": func(records, folder, steps string) error {
		s, err := OpenWith(context.Background(), records, testSeams())
		if err == nil {
			_, err = s.TakeBackup(context.Background(), backup.Order{Folder: folder, Keep: 1, Told: killedAt(steps)}, false)
		}
		return err
	},
	"look":  func(path, _, _ string) error { return looking(path) },
	"write": func(path, _, _ string) error { return writing(path) },
	"restore": func(folder, to, steps string) error {
		_, err := Restore(context.Background(), backup.Recovery{Backup: folder, To: to, Aside: true, Told: killedAt(steps)})
		return err
	},
}

func killedAt(text string) func(backup.Step, float64) {
	steps, _ := strconv.Atoi(text)
	return func(step backup.Step, done float64) {
		if step == "" || done < 1 && step != backup.Named {
			return
		}
		if steps--; steps < 0 {
			_ = syscall.Kill(os.Getpid(), syscall.SIGKILL)
			select {}
		}
	}
}

// played plays a part and reports whether it was killed.
func played(t *testing.T, part string, args ...string) (killed bool, said string) {
	t.Helper()
	cmd := exec.Command(os.Args[0], args...)
	cmd.Env = append(os.Environ(), partVariable+"="+part)
	out, err := cmd.CombinedOutput()
	var ended *exec.ExitError
	require.ErrorAs(t, err, &ended)
	return ended.Sys().(syscall.WaitStatus).Signaled(), string(out)
}

// A backup that is killed at any step leaves none that looks whole and is not, and the next one clears up.
func TestBackupKilledAtEachStep(t *testing.T) {
	s, folder := kept(t), t.TempDir()
	before := take(t, s, folder, false)
	for step := 0; ; step++ {
		killed, said := played(t, "backup", s.Path(), folder, strconv.Itoa(step))
		all, err := backup.List(folder)
		require.NoError(t, err)
		require.NotEmpty(t, all, "step %d: the one before stays until another is whole", step)
		for _, b := range all {
			require.NoError(t, b.Verify(t.Context(), b.Path, unconcerned), "step %d", step)
		}
		if !killed {
			require.Contains(t, said, "<nil>")
			assert.Greater(t, step, 6)
			assert.Len(t, all, 1)
			break
		}
	}
	left, err := filepath.Glob(filepath.Join(folder, ".padjig-unfinished-*"))
	require.NoError(t, err)
	assert.Empty(t, left)
	_, err = os.Stat(before.Path)
	assert.ErrorIs(t, err, fs.ErrNotExist, "only one was to be kept")
}

// A restore that is killed at any step leaves the records of before or those of the backup, or a place that nobody
// opens until the restore is carried out again; and of the records of before nothing is lost.
func TestRestoreKilledAtEachStep(t *testing.T) {
	s, ctx := kept(t), t.Context()
	taken := take(t, s, t.TempDir(), false)
	_, err := s.Runs.Save(ctx, runstest.Climate(), runstest.Passed("24-000777"))
	require.NoError(t, err)
	require.NoError(t, s.Close())
	for step := 0; ; step++ {
		to := filepath.Join(t.TempDir(), "records.sqlite")
		content, err := os.ReadFile(s.Path())
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(to, content, 0o644))
		require.NoError(t, os.CopyFS(to+".photos", os.DirFS(s.Path()+".photos")))
		killed, said := played(t, "restore", taken.Path, to, strconv.Itoa(step))
		if !killed {
			require.Contains(t, said, "<nil>")
			assert.Greater(t, step, 6)
			break
		}
		if open, err := Open(ctx, to); err != nil {
			require.ErrorIs(t, err, store.ErrInRestore, "step %d", step)
		} else {
			require.GreaterOrEqual(t, newestOf(t, open), taken.Runs, "step %d: no new records in place of those", step)
			require.NoError(t, open.Close())
		}
		_, err = Restore(ctx, backup.Recovery{Backup: taken.Path, To: to, Aside: true})
		require.NoError(t, err, "step %d", step)
		checkAndClose(t, opensAgain(t, to))
		aside, err := filepath.Glob(to + ".aside-*")
		require.NoError(t, err)
		var most int64
		for _, path := range aside {
			if strings.HasSuffix(path, "Z") || strings.Contains(filepath.Base(path), "Z-") {
				if old, err := OpenReadOnly(ctx, path); err == nil {
					most = max(most, newestOf(t, old))
					require.NoError(t, old.Close())
				}
			}
		}
		assert.Equal(t, taken.Runs+1, most, "step %d: the run that came after the backup is kept aside", step)
	}
}

func opensAgain(t *testing.T, path string) *Store {
	t.Helper()
	s, err := OpenWith(t.Context(), path, testSeams())
	require.NoError(t, err)
	return s
}

func newestOf(t *testing.T, s *Store) (newest int64) {
	t.Helper()
	require.NoError(t, s.db.View(t.Context(), func(tx *sql.Tx) error {
		return tx.QueryRow(`SELECT coalesce(max(seq), 0) FROM run`).Scan(&newest)
	}))
	return newest
}

// Records are restored over nothing and under nobody, and from nothing that is not what was written.
func TestRestoreRefuses(t *testing.T) {
	s, ctx := kept(t), t.Context()
	taken := take(t, s, t.TempDir(), false)
	_, err := Restore(ctx, backup.Recovery{Backup: taken.Path, To: s.Path()})
	assert.ErrorIs(t, err, backup.ErrThere)
	_, err = Restore(ctx, backup.Recovery{Backup: taken.Path, To: s.Path(), Aside: true})
	assert.ErrorIs(t, err, store.ErrHeld, "while it is open")
	_, err = s.Runs.Save(ctx, runstest.Climate(), runstest.Passed("24-000777"))
	require.NoError(t, err, "testing went on")
	require.NoError(t, s.Close())

	done, err := Restore(ctx, backup.Recovery{Backup: taken.Path, To: s.Path(), Aside: true})
	require.NoError(t, err)
	assert.True(t, done.Since.Known)
	require.Len(t, done.Since.Runs, 1)
	assert.Equal(t, "24-000777", done.Since.Runs[0].Serial)
	old, err := OpenReadOnly(ctx, done.Aside)
	require.NoError(t, err)
	assert.Equal(t, taken.Runs+1, newestOf(t, old))
	require.NoError(t, old.Close())

	_, err = Restore(ctx, backup.Recovery{Backup: taken.Path, To: filepath.Join(taken.Path, store.BackupName), Aside: true})
	assert.ErrorIs(t, err, backup.ErrDestination, "no backup is put aside")
	_, err = Restore(ctx, backup.Recovery{Backup: t.TempDir(), To: filepath.Join(t.TempDir(), "r")})
	assert.ErrorIs(t, err, backup.ErrNoBackup)
	manifest := filepath.Join(taken.Path, store.ManifestName)
	text, err := os.ReadFile(manifest)
	require.NoError(t, err)
	for name, c := range map[string]struct {
		from, to string
		want     error
	}{
		"newer":   {fmt.Sprintf(`"schema_version": %d`, taken.Schema), `"schema_version": 999`, store.ErrNewer},
		"outside": {`"name": "` + store.BackupName + `"`, `"name": "../../etc/passwd"`, backup.ErrDamaged},
		"a sum":   {taken.Files[0].SHA256, strings.Repeat("0", 64), backup.ErrDamaged},
	} {
		t.Run(name, func(t *testing.T) {
			changed := strings.Replace(string(text), c.from, c.to, 1)
			require.NotEqual(t, string(text), changed)
			require.NoError(t, os.WriteFile(manifest, []byte(changed), 0o644))
			to := filepath.Join(t.TempDir(), "records.sqlite")
			_, err := Restore(ctx, backup.Recovery{Backup: taken.Path, To: to})
			assert.ErrorIs(t, err, c.want)
			left, err := os.ReadDir(filepath.Dir(to))
			require.NoError(t, err)
			assert.Empty(t, left)
		})
	}
}
