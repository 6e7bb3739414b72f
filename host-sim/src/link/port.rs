//! Ports: listed, chosen and opened. Nothing is sent here.
//!
//! A serial port is opened for this program alone; a pseudo-terminal, which has no modem lines, like
//! any other. Listing opens nothing.

use super::Address;
use super::fault::{LinkError, OpenFault};
use serialport::{SerialPortInfo, SerialPortType};
use std::io::{self, Read, Write};
use std::net::{TcpStream, ToSocketAddrs as _};
use std::time::Duration;
use truesoak_core::wire::messages::PRODUCT;

/// A read gives up after so long.
const READ: Duration = Duration::from_millis(50);
/// A connection over a network is given up after so long.
const CONNECT: Duration = Duration::from_secs(3);
/// USB takes no notice of it; a board's UART does.
const BAUD: u32 = 115_200;

/// Bytes to and from a board; a read waits a moment at most.
pub trait Port: Read + Write + Send {}

impl<T: Read + Write + Send> Port for T {}

/// A port of this computer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Listed {
    /// Path or name.
    pub path: String,
    /// What it says it is, over USB.
    pub product: Option<String>,
    /// Its serial number, over USB.
    pub serial_number: Option<String>,
}

impl Listed {
    /// It is a board of this project.
    #[must_use]
    pub fn is_board(&self) -> bool {
        self.product.as_deref() == Some(PRODUCT)
    }
}

impl From<SerialPortInfo> for Listed {
    fn from(info: SerialPortInfo) -> Self {
        let usb = match info.port_type {
            SerialPortType::UsbPort(usb) => Some(usb),
            _ => None,
        };
        let (product, serial_number) =
            usb.map_or((None, None), |usb| (usb.product, usb.serial_number));
        Self { path: info.port_name, product, serial_number }
    }
}

/// Every serial port of this computer, by name.
///
/// # Errors
/// When the system does not tell.
pub fn list() -> Result<Vec<Listed>, LinkError> {
    let ports = serialport::available_ports();
    let ports = ports.map_err(|error| LinkError::List(error.to_string()))?;
    let mut listed: Vec<Listed> = ports.into_iter().map(Listed::from).collect();
    listed.sort_by(|one, other| one.path.cmp(&other.path));
    Ok(listed)
}

/// The boards among them; where a system shows one board twice, once.
#[must_use]
pub fn boards_of(listed: &[Listed]) -> Vec<&Listed> {
    let mut boards: Vec<&Listed> = Vec::new();
    for port in listed.iter().filter(|port| port.is_board()) {
        // macOS lists a call-in and a call-out port for each; the call-out one waits for nothing.
        let twin = boards.iter().position(|known| {
            known.serial_number.is_some() && known.serial_number == port.serial_number
        });
        match twin {
            None => boards.push(port),
            Some(at) if port.path.contains("/cu.") => boards[at] = port,
            Some(_) => {}
        }
    }
    boards
}

/// Opens what an address names, and says what that is.
///
/// # Errors
/// No board or several where none was named, and whatever keeps a port from being opened.
pub(super) fn open(address: &Address) -> Result<Box<dyn Port>, LinkError> {
    match address {
        Address::Tcp(host) => open_tcp(host),
        Address::Serial(path) => open_serial(path),
        Address::Only => open_serial(&only(&list()?)?),
    }
}

/// The path of the only board.
fn only(listed: &[Listed]) -> Result<String, LinkError> {
    match boards_of(listed).as_slice() {
        [board] => Ok(board.path.clone()),
        [] => Err(LinkError::NoBoard(listed.len())),
        several => {
            Err(LinkError::SeveralBoards(several.iter().map(|board| board.path.clone()).collect()))
        }
    }
}

fn open_serial(path: &str) -> Result<Box<dyn Port>, LinkError> {
    let at = |baud: u32| serialport::new(path, baud).timeout(READ).dtr_on_open(true).open();
    // macOS gives a pseudo-terminal no speed: there it is opened without one.
    let opened =
        at(BAUD).or_else(|first| if cfg!(target_os = "macos") { at(0) } else { Err(first) });
    match opened {
        Ok(port) => Ok(Box::new(port)),
        Err(error) => Err(LinkError::Open { path: path.to_owned(), fault: OpenFault::of(&error) }),
    }
}

fn open_tcp(host: &str) -> Result<Box<dyn Port>, LinkError> {
    let connect = || -> io::Result<TcpStream> {
        let mut last = io::Error::new(io::ErrorKind::NotFound, "the name has no address");
        for address in host.to_socket_addrs()? {
            match TcpStream::connect_timeout(&address, CONNECT) {
                Ok(stream) => {
                    stream.set_read_timeout(Some(READ))?;
                    stream.set_write_timeout(Some(CONNECT))?;
                    stream.set_nodelay(true)?;
                    return Ok(stream);
                }
                Err(error) => last = error,
            }
        }
        Err(last)
    };
    match connect() {
        Ok(stream) => Ok(Box::new(stream)),
        Err(error) => {
            let fault = OpenFault::NoAnswer(error.to_string());
            Err(LinkError::Open { path: format!("tcp:{host}"), fault })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn port(path: &str, product: Option<&str>, serial_number: Option<&str>) -> Listed {
        let text = |text: &str| text.to_owned();
        Listed {
            path: path.to_owned(),
            product: product.map(text),
            serial_number: serial_number.map(text),
        }
    }

    #[test]
    fn only_a_port_that_says_it_is_the_board_is_ever_chosen() {
        let modem = port("/dev/ttyACM0", Some("modem"), Some("1"));
        let plain = port("/dev/ttyS0", None, None);
        let near = port("/dev/ttyACM3", Some("truesoak probe"), None);
        let board = port("/dev/ttyACM1", Some("truesoak"), Some("2"));
        let none = [modem.clone(), plain.clone(), near];
        assert!(matches!(only(&none), Err(LinkError::NoBoard(3))));
        assert_eq!(only(&[modem, plain, board.clone()]).unwrap(), "/dev/ttyACM1");
        let other = port("/dev/ttyACM2", Some("truesoak"), Some("3"));
        let Err(LinkError::SeveralBoards(paths)) = only(&[board, other]) else { panic!("two") };
        assert_eq!(paths, ["/dev/ttyACM1", "/dev/ttyACM2"]);
    }

    #[test]
    fn one_board_under_two_names_is_one_and_called_out_to() {
        let listed = [
            port("/dev/tty.usbmodem1", Some("truesoak"), Some("2")),
            port("/dev/cu.usbmodem1", Some("truesoak"), Some("2")),
        ];
        assert_eq!(only(&listed).unwrap(), "/dev/cu.usbmodem1");
    }
}
