package object

import (
	"time"

	"padjig/results/accounts"
)

// Accounts are those who may sign in at the station.
type Accounts struct {
	Accounts []Account `json:"accounts"`
}

type Account struct {
	Name     string `json:"name"`
	Role     string `json:"role"`
	Password bool   `json:"password"`
	Badge    bool   `json:"badge"`
	Since    string `json:"since"`
	Locked   bool   `json:"locked"`
}

// AccountsOf lists accounts without their secrets.
func AccountsOf(list []accounts.Account) Accounts {
	return Accounts{each(list, func(a accounts.Account) Account {
		return Account{a.Name, a.Role, a.Password != "", a.Badge != "", a.Since.Format(time.RFC3339), a.Locked}
	})}
}

// SignIns are the attempts to sign in.
type SignIns struct {
	Attempts []SignIn `json:"attempts"`
}

type SignIn struct {
	At      string `json:"at"`
	Name    string `json:"name"`
	Address string `json:"address"`
	How     string `json:"how"`
	Outcome string `json:"outcome"`
}

// SignInsOf lists attempts as they were recorded.
func SignInsOf(list []accounts.SignIn) SignIns {
	return SignIns{each(list, func(e accounts.SignIn) SignIn {
		return SignIn{e.At.Format(time.RFC3339), e.Name, e.Address, e.How, string(e.Outcome)}
	})}
}
