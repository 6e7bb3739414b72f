//! Where a board is.

use std::str::FromStr;

/// What comes before HOST:PORT.
const TCP: &str = "tcp:";

/// Where a board is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Address {
    /// The only port whose USB product is the board's; looked for at every opening, since a board
    /// that is plugged in again may come back under another name.
    Only,
    /// A serial port or pseudo-terminal by its path or name.
    Serial(String),
    /// A host and its port.
    Tcp(String),
}

/// Not an address.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("\"{0}\" is no port: write the path of a serial port, or tcp:HOST:PORT")]
pub struct BadAddress(String);

impl FromStr for Address {
    type Err = BadAddress;

    fn from_str(typed: &str) -> Result<Self, BadAddress> {
        let bad = || BadAddress(typed.to_owned());
        let Some(rest) = typed.strip_prefix(TCP) else {
            return if typed.trim().is_empty() {
                Err(bad())
            } else {
                Ok(Self::Serial(typed.into()))
            };
        };
        let (host, port) = rest.rsplit_once(':').ok_or_else(bad)?;
        let known = port.parse::<u16>().is_ok_and(|port| port != 0);
        if host.is_empty() || !known { Err(bad()) } else { Ok(Self::Tcp(rest.to_owned())) }
    }
}

impl std::fmt::Display for Address {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Only => formatter.write_str("the board's USB port"),
            Self::Serial(path) => formatter.write_str(path),
            Self::Tcp(rest) => write!(formatter, "{TCP}{rest}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_is_serial_and_tcp_needs_host_and_port() {
        let read = |typed: &str| typed.parse::<Address>();
        assert_eq!(read("/dev/ttyACM0"), Ok(Address::Serial("/dev/ttyACM0".into())));
        assert_eq!(read("COM3"), Ok(Address::Serial("COM3".into())));
        assert_eq!(read("tcp:127.0.0.1:4711"), Ok(Address::Tcp("127.0.0.1:4711".into())));
        assert_eq!(read("tcp:[::1]:4711"), Ok(Address::Tcp("[::1]:4711".into())));
        for typed in
            ["", " ", "tcp:", "tcp:host", "tcp::4711", "tcp:host:", "tcp:host:0", "tcp:h:70000"]
        {
            assert!(read(typed).is_err(), "{typed}");
        }
    }

    #[test]
    fn an_address_reads_back_as_it_is_shown() {
        for typed in ["/dev/pts/3", "tcp:localhost:4711"] {
            assert_eq!(typed.parse::<Address>().unwrap().to_string(), typed);
        }
    }
}
