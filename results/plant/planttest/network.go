package planttest

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"math/big"
	mathrand "math/rand/v2"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Listen has the server answer on two addresses of this machine besides its socket, on one port, and starts it.
// The addresses are hardly anybody's, so that tests beside one another are seldom in each other's way; where they are, others are tried.
func (s *Server) Listen() (first, second string, port int, err error) {
	settled := s.settled
	for range 8 {
		first, second = loopback(), loopback()
		if port, err = free(first); err != nil {
			continue
		}
		s.port = port
		s.settled = append(append([]string{}, settled...), "listen_addresses="+first+","+second, "port="+strconv.Itoa(port))
		if err = s.Start(); err == nil {
			return first, second, port, nil
		}
	}
	return "", "", 0, fmt.Errorf("no address to listen on: %w", err)
}

func loopback() string {
	return fmt.Sprintf("127.%d.%d.%d", 1+mathrand.IntN(250), mathrand.IntN(256), 1+mathrand.IntN(254))
}

func free(address string) (int, error) {
	l, err := net.Listen("tcp", net.JoinHostPort(address, "0"))
	if err != nil {
		return 0, err
	}
	return l.Addr().(*net.TCPAddr).Port, l.Close()
}

// Write writes a file below the server's folder as the server's own, which nobody else may read, and gives its path.
func (s *Server) Write(name string, content []byte) (string, error) {
	path := filepath.Join(s.dir, name)
	if err := os.WriteFile(path, content, 0o600); err != nil {
		return "", err
	}
	if s.as == nil {
		return path, nil
	}
	return path, os.Chown(path, int(s.as.Uid), int(s.as.Gid))
}

// Tool runs a program of PostgreSQL's to its end as the server's user, and gives what it said.
func (s *Server) Tool(name string, args ...string) (string, error) {
	cmd, err := s.command(name, args...)
	if err != nil {
		return "", err
	}
	said, err := cmd.CombinedOutput()
	if failed, ok := errors.AsType[*exec.ExitError](err); ok {
		err = fmt.Errorf("%s: %w: %s", name, failed, said)
	}
	return string(said), err
}

// Folder is where the socket of the server is, and its data below.
func (s *Server) Folder() string { return s.dir }

// Beside gives a server over data that is already in a folder, such as a backup or a replica, with the user of this one.
func (s *Server) Beside(dir string, settings ...string) (*Server, error) {
	other := &Server{dir: dir, as: s.as, settled: settings}
	if s.as == nil {
		return other, nil
	}
	return other, os.Chown(dir, int(s.as.Uid), int(s.as.Gid))
}

// Certified is a certificate with its key, as PEM.
type Certified struct {
	Certificate, Key []byte
	parsed           *x509.Certificate
	key              *ecdsa.PrivateKey
}

// Authority makes one that signs others.
func Authority(t testing.TB, name string) Certified {
	t.Helper()
	return certified(t, &x509.Certificate{
		Subject: pkix.Name{CommonName: name}, IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign,
		NotAfter: time.Now().Add(time.Hour),
	}, nil)
}

// Sign makes a certificate for a name, a server's with the addresses in it, that holds until a time.
func (a Certified) Sign(t testing.TB, name string, until time.Time, addresses ...string) Certified {
	t.Helper()
	of := &x509.Certificate{
		Subject: pkix.Name{CommonName: name}, NotAfter: until, KeyUsage: x509.KeyUsageDigitalSignature,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageClientAuth, x509.ExtKeyUsageServerAuth},
	}
	for _, address := range addresses {
		of.IPAddresses = append(of.IPAddresses, net.ParseIP(address))
	}
	return certified(t, of, &a)
}

func certified(t testing.TB, of *x509.Certificate, by *Certified) Certified {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	of.SerialNumber, err = rand.Int(rand.Reader, big.NewInt(1<<62))
	require.NoError(t, err)
	of.NotBefore = time.Now().Add(-48 * time.Hour)
	c := Certified{parsed: of, key: key}
	if by == nil {
		by = &c
	}
	der, err := x509.CreateCertificate(rand.Reader, of, by.parsed, key.Public(), by.key)
	require.NoError(t, err)
	c.parsed, err = x509.ParseCertificate(der)
	require.NoError(t, err)
	private, err := x509.MarshalPKCS8PrivateKey(key)
	require.NoError(t, err)
	c.Certificate = pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})
	c.Key = pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: private})
	return c
}

// Raw is the certificate as it goes over a line.
func (a Certified) Raw() []byte { return a.parsed.Raw }

// Files writes certificate and key into a folder and gives their paths.
func (a Certified) Files(t testing.TB, dir, name string) (certificate, key string) {
	t.Helper()
	name = strings.ReplaceAll(name, "/", "_")
	certificate, key = filepath.Join(dir, name+".crt"), filepath.Join(dir, name+".key")
	require.NoError(t, os.WriteFile(certificate, a.Certificate, 0o644))
	require.NoError(t, os.WriteFile(key, a.Key, 0o600))
	return certificate, key
}
