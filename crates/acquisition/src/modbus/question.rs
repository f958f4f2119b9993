//! Which registers are asked for at once.

use std::fmt;

use tokio_modbus::{Request, Response};

use crate::settings::{RegisterChannel, Table};

/// Registers that follow each other and are asked for at once, so that they are of one time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Question {
    pub(super) table: Table,
    /// The first of them.
    pub(super) register: u16,
    /// How many.
    pub(super) count: u16,
    /// The places of its channels in the settings, and where their registers begin.
    pub(super) channels: Vec<(usize, usize)>,
}

/// The most registers of one answer (Modbus application protocol V1.1b3, 6.3 and 6.4; memory).
const REGISTERS_MOST: u16 = 125;

impl Question {
    /// The fewest questions that ask for the registers of all channels and for no others.
    pub(super) fn all(channels: &[RegisterChannel]) -> Vec<Self> {
        let mut order: Vec<usize> = (0..channels.len()).collect();
        order.sort_by_key(|index| (channels[*index].table, channels[*index].register));
        let mut questions: Vec<Self> = Vec::new();
        for index in order {
            let channel = &channels[index];
            let words = channel.number.words();
            match questions.last_mut() {
                Some(last) if last.goes_on(channel) => {
                    last.channels.push((index, usize::from(last.count)));
                    last.count += words;
                }
                _ => questions.push(Self {
                    table: channel.table,
                    register: channel.register,
                    count: words,
                    channels: vec![(index, 0)],
                }),
            }
        }
        questions
    }

    /// Whether the registers of `channel` follow those asked for so far.
    fn goes_on(&self, channel: &RegisterChannel) -> bool {
        self.table == channel.table
            && self.register.checked_add(self.count) == Some(channel.register)
            && self.count + channel.number.words() <= REGISTERS_MOST
    }

    /// It as it is sent. Only functions that read exist here: 3 and 4.
    pub(super) const fn request(&self) -> Request<'static> {
        match self.table {
            Table::Holding => Request::ReadHoldingRegisters(self.register, self.count),
            Table::Input => Request::ReadInputRegisters(self.register, self.count),
        }
    }

    /// The words of an answer, if it is one to this question.
    pub(super) fn words(&self, response: Response) -> Option<Vec<u16>> {
        let ((Table::Holding, Response::ReadHoldingRegisters(words))
        | (Table::Input, Response::ReadInputRegisters(words))) = (self.table, response)
        else {
            return None;
        };
        (words.len() == usize::from(self.count)).then_some(words)
    }
}

impl fmt::Display for Question {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (table, first) = (self.table.word(), self.register);
        match self.count {
            1 => write!(out, "{table} register {first}"),
            count => write!(out, "{table} registers {first} to {}", first + (count - 1)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::{Number, Order, Unit};

    fn channel(table: Table, register: u16, number: Number) -> RegisterChannel {
        RegisterChannel {
            name: register.to_string(),
            table,
            register,
            number,
            scale: 1.0,
            word_order: Order::HighFirst,
            byte_order: Order::HighFirst,
            unit: Unit::C,
            open_circuit: Vec::new(),
        }
    }

    #[test]
    fn neighbours_are_asked_for_at_once() {
        let channels = [
            channel(Table::Input, 4, Number::I16),
            channel(Table::Input, 0, Number::F32),
            channel(Table::Input, 2, Number::F32),
            channel(Table::Holding, 5, Number::I16),
            channel(Table::Input, 7, Number::I16),
            channel(Table::Input, 65535, Number::I16),
        ];
        let told: Vec<String> = Question::all(&channels).iter().map(Question::to_string).collect();
        let expected = [
            "holding register 5",
            "input registers 0 to 4",
            "input register 7",
            "input register 65535",
        ];
        assert_eq!(told, expected);
        assert_eq!(Question::all(&channels)[1].channels, [(1, 0), (2, 2), (0, 4)]);
        let many: Vec<_> = (0..64).map(|n| channel(Table::Input, 2 * n, Number::F32)).collect();
        let counts: Vec<u16> = Question::all(&many).iter().map(|it| it.count).collect();
        assert_eq!(counts, [124, 4]);
    }
}
