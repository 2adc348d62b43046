// Package planttest runs a real PostgreSQL server for tests, in a folder of its own, that is
// gone with them.
package planttest

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"padjig/results/plant/postgres"
)

// Server is a PostgreSQL server on a socket of its own.
type Server struct {
	dir     string // of the socket and the data
	as      *syscall.Credential
	cmd     *exec.Cmd
	ended   chan struct{}
	settled []string // further settings
	port    int      // 0 for PostgreSQL's own
	made    atomic.Int64
	once    sync.Once
	tables  string // address of the database that is copied
}

// Run runs the tests of a package beside a server: func TestMain(m *testing.M) { planttest.Run(m, &server) }.
func Run(m *testing.M, into **Server) {
	code, err := run(m, into)
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		code = 1
	}
	os.Exit(code)
}

func run(m *testing.M, into **Server) (code int, err error) {
	dir, err := os.MkdirTemp("", "plant")
	if err != nil {
		return 1, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	s, err := Make(dir, "fsync=off", "synchronous_commit=off", "full_page_writes=off")
	if err != nil {
		return 1, err
	}
	if err := s.Start(); err != nil {
		return 1, err
	}
	defer func() { err = errors.Join(err, s.End(syscall.SIGINT)) }()
	*into = s
	return m.Run(), nil
}

// Make makes the data of a server in an empty folder, with settings as in postgresql.conf.
// The server refuses to be root's; it runs as the user postgres then.
func Make(dir string, settings ...string) (*Server, error) {
	s := &Server{dir: dir, settled: settings}
	if os.Geteuid() == 0 {
		owner, err := user.Lookup("postgres")
		if err != nil {
			return nil, fmt.Errorf("a server cannot run as root: %w", err)
		}
		uid, err := strconv.ParseUint(owner.Uid, 10, 32)
		if err != nil {
			return nil, err
		}
		gid, err := strconv.ParseUint(owner.Gid, 10, 32)
		if err != nil {
			return nil, err
		}
		s.as = &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}
		if err := os.Chown(dir, int(uid), int(gid)); err != nil {
			return nil, err
		}
	}
	if err := os.Chmod(dir, 0o755); err != nil {
		return nil, err
	}
	cmd, err := s.command("initdb", "-D", s.data(), "-U", "owner", "-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync")
	if err != nil {
		return nil, err
	}
	if said, err := cmd.CombinedOutput(); err != nil {
		return nil, fmt.Errorf("initdb: %w: %s", err, said)
	}
	return s, nil
}

func (s *Server) data() string { return filepath.Join(s.dir, "data") }

// Binary finds a program of the server, of the newest version that is installed.
func Binary(name string) (string, error) {
	found, err := filepath.Glob("/usr/lib/postgresql/*/bin/" + name)
	if err == nil && len(found) > 0 {
		return slices.MaxFunc(found, func(a, b string) int { return versionOf(a) - versionOf(b) }), nil
	}
	return exec.LookPath(name)
}

func versionOf(path string) int {
	n, err := strconv.Atoi(strings.Split(path, "/")[4])
	if err != nil {
		return 0
	}
	return n
}

func (s *Server) command(name string, args ...string) (*exec.Cmd, error) {
	binary, err := Binary(name)
	if err != nil {
		return nil, err
	}
	cmd := exec.Command(binary, args...)
	cmd.Dir = s.dir
	cmd.Env = append(os.Environ(), "LC_ALL=C", "HOME="+s.dir)
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: s.as, Setpgid: true}
	return cmd, nil
}

// Start starts the server and waits until it answers. Settings are for this time only.
func (s *Server) Start(settings ...string) error {
	args := []string{"-D", s.data(), "-k", s.dir, "-c", "listen_addresses=", "-c", "max_connections=120", "-c", "shared_buffers=64MB"}
	for _, setting := range append(slices.Clone(s.settled), settings...) {
		args = append(args, "-c", setting)
	}
	cmd, err := s.command("postgres", args...)
	if err != nil {
		return err
	}
	log, err := os.OpenFile(filepath.Join(s.dir, "log"), os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o644)
	if err != nil {
		return err
	}
	defer log.Close()
	cmd.Stdout, cmd.Stderr = log, log
	if err := cmd.Start(); err != nil {
		return err
	}
	s.cmd, s.ended = cmd, make(chan struct{})
	go func(ended chan struct{}) {
		_ = cmd.Wait() // how it ended is in its log
		close(ended)
	}(s.ended)
	return s.answers()
}

func (s *Server) answers() error {
	db, err := postgres.Open(s.Address("postgres"))
	if err != nil {
		return err
	}
	defer db.Close()
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	again := time.NewTicker(20 * time.Millisecond)
	defer again.Stop()
	for {
		err := db.PingContext(ctx)
		if err == nil {
			return nil
		}
		select {
		case <-again.C:
		case <-s.ended:
			said, _ := os.ReadFile(filepath.Join(s.dir, "log"))
			return fmt.Errorf("the server ended: %w: %s", err, said)
		case <-ctx.Done():
			return fmt.Errorf("the server does not answer: %w", err)
		}
	}
}

// End ends the server by a signal, SIGKILL as a power cut would, and waits until it has ended.
func (s *Server) End(with syscall.Signal) error {
	pid := s.cmd.Process.Pid
	var children []int
	if with == syscall.SIGKILL {
		children = childrenOf(pid) // none of its group: each begins a session
	}
	if err := syscall.Kill(pid, with); err != nil {
		return err
	}
	for _, child := range children {
		_ = syscall.Kill(child, with) // one that has ended is what is wanted
	}
	<-s.ended
	look := time.NewTicker(2 * time.Millisecond)
	defer look.Stop()
	for slices.ContainsFunc(children, runs) { // the memory that they share is in the way of a server to come
		<-look.C
	}
	return nil
}

// childrenOf are the processes that a process has begun.
func childrenOf(pid int) (children []int) {
	found, _ := filepath.Glob("/proc/[0-9]*") // the pattern is right
	for _, path := range found {
		if child, err := strconv.Atoi(filepath.Base(path)); err == nil {
			if s := stat(child); s != nil && s[1] == pid {
				children = append(children, child)
			}
		}
	}
	return children
}

// runs reports whether a process is there and has not ended.
func runs(pid int) bool {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	_, behind, _ := strings.Cut(string(text), ") ")
	return err == nil && !strings.HasPrefix(behind, "Z") && !strings.HasPrefix(behind, "X")
}

// Address is that of a database of the server.
func (s *Server) Address(database string) string {
	address := "host=" + s.dir + " user=owner dbname=" + database
	if s.port != 0 {
		address += " port=" + strconv.Itoa(s.port)
	}
	return address
}

// Empty makes a database without tables and gives its address.
func (s *Server) Empty(t testing.TB) string {
	t.Helper()
	name := "plant" + strconv.FormatInt(s.made.Add(1), 10)
	db, err := postgres.Open(s.Address("postgres"))
	require.NoError(t, err)
	defer db.Close()
	_, err = db.ExecContext(t.Context(), `CREATE DATABASE `+name)
	require.NoError(t, err)
	return s.Address(name)
}

// Plant makes a database with the tables of a plant and opens it.
func (s *Server) Plant(t testing.TB) *sql.DB {
	t.Helper()
	db, err := postgres.Open(s.Made(t))
	require.NoError(t, err)
	t.Cleanup(func() { _ = db.Close() })
	return db
}

// Made makes a database with the tables of a plant and gives its address. The tables are made once, and copied.
func (s *Server) Made(t testing.TB) string {
	t.Helper()
	s.once.Do(func() {
		address := s.Empty(t)
		db, err := postgres.Open(address)
		require.NoError(t, err)
		_, err = postgres.Migrate(t.Context(), db)
		require.NoError(t, errors.Join(err, db.Close()))
		s.tables = address
	})
	require.NotEmpty(t, s.tables, "the first test that needed tables could not make them")
	return s.Like(t, s.tables)
}

// Like makes a database with all that is in another one and gives its address. Who is connected to that one has to leave.
func (s *Server) Like(t testing.TB, address string) string {
	t.Helper()
	name := "plant" + strconv.FormatInt(s.made.Add(1), 10)
	db, err := postgres.Open(s.Address("postgres"))
	require.NoError(t, err)
	defer db.Close()
	of := address[strings.Index(address, "dbname=")+len("dbname="):]
	of, _, _ = strings.Cut(of, " ")
	for {
		// The server waits five seconds for those who leave, and for nobody to be copying it.
		_, err = db.ExecContext(t.Context(), `CREATE DATABASE `+name+` TEMPLATE `+of)
		if postgres.Code(err) != objectInUse {
			break
		}
	}
	require.NoError(t, err)
	return s.Address(name)
}

// objectInUse is what the server says where somebody is connected to a database that it is to copy.
const objectInUse = "55006"
